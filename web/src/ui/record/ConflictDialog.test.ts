// Which fields two versions differ in: only those that say different things.
import { expect, test } from "vitest";
import { differing } from "./ConflictDialog";
import type { Field } from "./description";

const fields: readonly Field[] = [
  { type: "text", name: "grants", label: "What it grants" },
  { type: "text", name: "agrees", label: "Agrees" },
  { type: "longText", name: "notes", label: "Notes" },
];

// Source: common practice, no source.
test("the order of members and defaults that say nothing are no difference", () => {
  const mine = {
    grants: [{ territories: ["GB"], term: { to: "2031-01-09" }, starts: "signature" }],
    agrees: false,
    notes: "mine",
  };
  const theirs = {
    grants: [
      {
        starts: "signature",
        term: { to: "2031-01-09" },
        territories: ["GB"],
        territories_except: [],
        long_stop: null,
        limits: { runs: null, episodes: [], versions: [] },
      },
    ],
    agrees: false,
    notes: "theirs",
  };
  const names = (a: object, b: object) => differing(fields, { ...a }, { ...b }).map((f) => f.name);
  expect(names(mine, theirs)).toEqual(["notes"]);
  expect(names(mine, { ...theirs, agrees: null })).toEqual(["agrees", "notes"]);
  const shorter = [{ ...theirs.grants[0], long_stop: "2030-01-01" }];
  expect(names(mine, { ...theirs, grants: shorter })).toEqual(["grants", "notes"]);
});
