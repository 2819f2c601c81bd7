// How a kind of record is described once: its fields for the form and the panel, its columns for the list.
// Pages give a description; RecordsPage does the rest.
import type { Kind } from "../../api/records";
import type { Action, SavedRecord } from "../../api/types";
import type { Word } from "../../words/states";
import type { Lookup } from "./lookup";
import { valueAt } from "./nested";

export type Values = Record<string, unknown>;

interface Common {
  name: string;
  label: string;
  help?: string;
  required?: boolean;
  /** Fields of one group stand under its heading. */
  group?: string;
  /** Shown as "not entered" when empty, because its absence matters. */
  matters?: boolean;
  /** Shown in form and panel only when this holds. */
  when?: (values: Values) => boolean;
  initial?: unknown;
}

export type Field = Common &
  (
    | { type: "text"; max?: number; autoComplete?: string; nullable?: boolean }
    | { type: "longText" }
    | { type: "date"; deadline?: boolean }
    | { type: "whole"; min?: number; max?: number; unit?: string }
    | { type: "length" }
    | { type: "bytes" }
    | { type: "money"; currency: string }
    | { type: "select"; words: readonly Word[]; clearable?: boolean }
    | { type: "yesNo" }
    | { type: "lines" }
    | { type: "dates" }
    | { type: "territories"; except?: string }
    | { type: "media"; except?: string }
    | { type: "reference"; kind: Kind | "members" }
    | { type: "references"; kind: Kind }
    | { type: "document" }
    | { type: "grants" }
    | { type: "restrictions" }
    | { type: "parties" }
    | { type: "stepUps" }
    | { type: "amount" }
    | { type: "withdrawal" }
    | { type: "threeWay"; yes: string; no: string }
    | { type: "several"; words: readonly Word[] }
    | { type: "billing" }
    | {
        type: "rows";
        of: readonly Field[];
        row: string;
        rowWords: (row: Values) => string;
        /** What the server noted of a row, said after what was typed. */
        rowNote?: (row: Values) => string;
      }
  );

export type FieldType = Field["type"];

export interface Column {
  name: string;
  header: string;
  /** What is shown, sorted and searched; a date stays `YYYY-MM-DD` here. */
  value: (record: SavedRecord, lookup: Lookup) => string | number | null;
  /** Its place in the order, where that is not the order of the shown words. */
  rank?: (record: SavedRecord) => number | null;
  cell?: (record: SavedRecord, lookup: Lookup) => React.ReactNode;
  align?: "right";
  /** Part of the second line on a phone, where the heads of the columns are out of sight; a function gives own words. */
  phone?: boolean | ((record: SavedRecord, lookup: Lookup) => string);
  /** Left out while no record has it; a line below the list says so. */
  sparse?: boolean;
}

export interface Description {
  kind: Kind;
  /** "person", for "New person". */
  one: string;
  /** "a person", inside a sentence. */
  aOne: string;
  /** "People", the page's title. */
  many: string;
  lead?: React.ReactNode;
  /** The action of `domain::perms` that changing it needs. */
  action: Action;
  title: (record: SavedRecord, lookup: Lookup) => string;
  fields: readonly Field[];
  columns: readonly Column[];
  state?: { field: string; words: readonly Word[] };
  /** Default order: a column's name, `-` before it for the other way round. */
  order: string;
  /** Only records of the chosen episode are listed; new ones start in it. */
  byEpisode?: boolean;
  empty: { title: string; text: React.ReactNode };
  caution?: React.ReactNode;
}

/** What a field holds before anybody typed. */
export function emptyValue(field: Field): unknown {
  if (field.initial !== undefined) return field.initial;
  switch (field.type) {
    case "text":
      return field.nullable ? null : "";
    case "longText":
      return "";
    case "yesNo":
      return false;
    case "several":
    case "rows":
    case "lines":
    case "dates":
    case "references":
    case "grants":
    case "restrictions":
    case "parties":
    case "stepUps":
    case "territories":
    case "media":
      return [];
    case "select":
      return field.clearable ? null : (field.words[0]?.value ?? null);
    default:
      return null;
  }
}

/** Every column that a field writes: pickers with an "except" list write two. */
export function columnsOf(field: Field): string[] {
  if (field.type === "territories" || field.type === "media") {
    return field.except ? [field.name, field.except] : [field.name];
  }
  if (field.type === "money") return [field.name, field.currency];
  return [field.name];
}

/** The values that a form starts with. */
export function startValues(fields: readonly Field[], record: Values | null): Values {
  const values: Values = {};
  for (const field of fields) {
    for (const [index, column] of columnsOf(field).entries()) {
      const blank = index === 0 ? emptyValue(field) : field.type === "money" ? "" : [];
      const kept = record ? (record[column] ?? valueAt(record, column)) : undefined;
      const empty = record && column in record ? record[column] : blank;
      values[column] = kept !== undefined && kept !== null ? kept : (empty ?? blank);
    }
  }
  return values;
}

export const text = (record: SavedRecord, name: string): string => {
  const value = record[name];
  return value === null || value === undefined ? "" : String(value);
};
