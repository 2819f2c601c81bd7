// Names for the shapes of the OpenAPI document that the pages speak of.
import type { components } from "./schema.gen";

type Schemas = components["schemas"];

export type ProblemField = Schemas["FieldError"];
/** Problem details as they may arrive: a proxy in between may have left some out. */
export type Problem = Pick<Schemas["Problem"], "title" | "status"> &
  Partial<Omit<Schemas["Problem"], "title" | "status" | "code" | "current">> & {
    code?: string;
    current?: Record<string, unknown> | null;
  };

export interface Page<T> {
  items: T[];
  next: string | null;
}

/** What every record has; its own fields are named by its description (`ui/record/description.ts`). */
export interface SavedRecord {
  id: string;
  version: number;
  created_at: string;
  updated_at: string;
  [field: string]: unknown;
}

export type Me = Schemas["Me"];
export type User = Schemas["UserView"];
export type Member = Schemas["Member"];
export type Role = Schemas["Role"];
export type Action = Schemas["Action"];
export type MailChoice = Schemas["MailChoice"];
/** The document says no more of `before` and `after` than that they are JSON: records as they were. */
export type AuditLine = Omit<Schemas["AuditLine"], "before" | "after"> & {
  before: Record<string, unknown> | null;
  after: Record<string, unknown> | null;
};
export type SeriesFields = Schemas["SeriesFields"];

/** The fields of each kind of record, as they are sent. */
export interface FieldsByKind {
  episodes: Schemas["EpisodeFields"];
  scenes: Schemas["SceneFields"];
  "shoot-days": Schemas["ShootDayFields"];
  places: Schemas["PlaceFields"];
  people: Schemas["PersonFields"];
  releases: Schemas["ReleaseFields"];
  drives: Schemas["DriveFields"];
  cards: Schemas["CardFields"];
  assets: Schemas["AssetFields"];
  music: Schemas["MusicFields"];
  licences: Schemas["LicenceFields"];
  costs: Schemas["CostFields"];
  budgets: Schemas["BudgetFields"];
  specifications: Schemas["SpecificationFields"];
  deliverables: Schemas["DeliverableFields"];
  "territory-groups": Schemas["TerritoryGroupFields"];
  showings: Schemas["ShowingFields"];
}
