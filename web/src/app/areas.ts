// The way through follows the work. One table: the navigation, the key help and the router's places agree by it.
import type { Action } from "../api/types";

export interface Place {
  to: string;
  title: string;
  /** The actions of `domain::perms` without which the page stays empty; null: every member has a use for it. */
  needs: Action | readonly Action[] | null;
}

export interface Area {
  name: string;
  /** Path below `/s/{series}`; empty for Today. */
  path: string;
  pages: readonly Place[];
}

export const areas: readonly Area[] = [
  { name: "Today", path: "", pages: [{ to: "", title: "Today", needs: "view_series" }] },
  {
    name: "Shoot",
    path: "shoot",
    pages: [
      { to: "shoot/days", title: "Days", needs: "view_series" },
      { to: "shoot/places", title: "Places", needs: "view_people" },
      { to: "shoot/people", title: "People", needs: "view_people" },
      { to: "shoot/releases", title: "Releases", needs: "view_releases" },
    ],
  },
  {
    name: "Footage",
    path: "footage",
    pages: [
      { to: "footage/find", title: "Find and log", needs: "view_footage" },
      { to: "footage/cards", title: "Cards", needs: "view_footage" },
      { to: "footage/drives", title: "Drives", needs: "view_footage" },
      { to: "footage/copies", title: "Copies", needs: "view_footage" },
      { to: "footage/what-if", title: "What if", needs: "view_footage" },
      { to: "footage/labels", title: "Labels", needs: "view_footage" },
    ],
  },
  {
    name: "Cut",
    path: "cut",
    pages: [
      { to: "cut/versions", title: "Versions", needs: "view_cuts" },
      { to: "cut/strip", title: "Strip", needs: "view_cuts" },
      { to: "cut/scenes", title: "Scenes", needs: "view_series" },
    ],
  },
  {
    name: "Clearance",
    path: "clearance",
    pages: [
      { to: "clearance/elements", title: "Elements", needs: "view_clearance" },
      { to: "clearance/what-if", title: "What if", needs: "view_clearance" },
      { to: "clearance/calendar", title: "Days ahead", needs: "view_clearance" },
      { to: "clearance/music", title: "Music", needs: "view_licences" },
      { to: "clearance/cue-sheet", title: "Cue sheet", needs: "view_cuts" },
      { to: "clearance/captions", title: "Captions", needs: "view_cuts" },
      { to: "clearance/imports", title: "Imports", needs: "view_licences" },
      { to: "clearance/licences", title: "Licences", needs: "view_licences" },
      { to: "clearance/costs", title: "Costs", needs: "view_fees" },
      { to: "clearance/budgets", title: "Budgets", needs: "view_fees" },
    ],
  },
  {
    name: "Delivery",
    path: "delivery",
    pages: [
      { to: "delivery/specifications", title: "Specifications", needs: "view_deliveries" },
      { to: "delivery/territories", title: "Territory groups", needs: "view_deliveries" },
      { to: "delivery/showings", title: "Showings", needs: "view_deliveries" },
      { to: "delivery/deliverables", title: "Deliverables", needs: "view_deliveries" },
      { to: "delivery/report", title: "Report", needs: ["download_report", "view_series"] },
      { to: "delivery/papers", title: "Papers", needs: ["download_report", "view_series"] },
      { to: "delivery/issued", title: "Issued", needs: "view_deliveries" },
    ],
  },
  {
    name: "Team",
    path: "team",
    pages: [
      { to: "team/members", title: "Members", needs: "view_series" },
      { to: "team/episodes", title: "Episodes", needs: "view_series" },
      { to: "team/settings", title: "Series settings", needs: "view_series" },
      { to: "team/lists", title: "Lists brought in", needs: "view_series" },
      { to: "team/notes", title: "Notes for you", needs: null },
      { to: "team/audit", title: "Changes", needs: "view_audit" },
    ],
  },
];

const opens = ({ needs }: Place, actions: readonly Action[]) =>
  needs === null || [needs].flat().every((action) => actions.includes(action as Action));

/** The areas with the pages that these actions open; areas without any are left out. */
export function areasFor(actions: readonly Action[]): Area[] {
  return areas
    .map((area) => ({ ...area, pages: area.pages.filter((page) => opens(page, actions)) }))
    .filter((area) => area.pages.length > 0);
}

/** The address of a place in a series. */
export const inSeries = (series: string, to: string) =>
  to ? `/s/${series}/${to}` : `/s/${series}`;
