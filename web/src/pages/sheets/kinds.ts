// The kinds of lists in words, with the pages that they belong to.
import type { SheetKind } from "../../api/sheets";
import type { Action } from "../../api/types";

export const kinds: Record<SheetKind, { many: string; place: string; action: Action }> = {
  people: { many: "People", place: "shoot/people", action: "edit_people" },
  places: { many: "Places", place: "shoot/places", action: "edit_people" },
  shoot_days: { many: "Shoot days", place: "shoot/days", action: "edit_schedule" },
  releases: { many: "Releases", place: "shoot/releases", action: "edit_releases" },
  assets: { many: "Imported assets", place: "clearance/imports", action: "edit_assets" },
  music: { many: "Music", place: "clearance/music", action: "edit_assets" },
  licences: { many: "Licences", place: "clearance/licences", action: "edit_licences" },
  drives: { many: "Drives", place: "footage/drives", action: "edit_footage" },
  deliverables: {
    many: "Deliverables",
    place: "delivery/deliverables",
    action: "edit_deliverables",
  },
};

export const isSheetKind = (text: string | undefined): text is SheetKind =>
  text !== undefined && Object.hasOwn(kinds, text);
