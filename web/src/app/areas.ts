// The way through follows the work. One table: the navigation, the key help and the router's places agree by it.
export interface Place {
  to: string;
  title: string;
}

export interface Area {
  name: string;
  /** Path below `/s/{series}`; empty for Today. */
  path: string;
  pages: readonly Place[];
}

export const areas: readonly Area[] = [
  { name: "Today", path: "", pages: [{ to: "", title: "Today" }] },
  {
    name: "Shoot",
    path: "shoot",
    pages: [
      { to: "shoot/days", title: "Days" },
      { to: "shoot/places", title: "Places" },
      { to: "shoot/people", title: "People" },
      { to: "shoot/releases", title: "Releases" },
    ],
  },
  {
    name: "Footage",
    path: "footage",
    pages: [
      { to: "footage/cards", title: "Cards" },
      { to: "footage/drives", title: "Drives" },
    ],
  },
  {
    name: "Cut",
    path: "cut",
    pages: [{ to: "cut/scenes", title: "Scenes" }],
  },
  {
    name: "Clearance",
    path: "clearance",
    pages: [
      { to: "clearance/music", title: "Music" },
      { to: "clearance/imports", title: "Imports" },
      { to: "clearance/licences", title: "Licences" },
    ],
  },
  {
    name: "Delivery",
    path: "delivery",
    pages: [
      { to: "delivery/specifications", title: "Specifications" },
      { to: "delivery/deliverables", title: "Deliverables" },
    ],
  },
  {
    name: "Team",
    path: "team",
    pages: [
      { to: "team/members", title: "Members" },
      { to: "team/episodes", title: "Episodes" },
      { to: "team/settings", title: "Series settings" },
      { to: "team/audit", title: "Changes" },
    ],
  },
];

/** The address of a place in a series. */
export const inSeries = (series: string, to: string) =>
  to ? `/s/${series}/${to}` : `/s/${series}`;
