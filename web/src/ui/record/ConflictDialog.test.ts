// Which fields two versions differ in: only those that say different things.
import { expect, test } from "vitest";
import { chosenAlready, differing } from "./ConflictDialog";
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

// Source: common practice, no source.
test("only what both changed is still to be chosen", () => {
  const before = { grants: "UK", agrees: "yes", notes: "" };
  const mine = { grants: "UK and Ireland", agrees: "yes", notes: "mine" };
  const theirs = { grants: "UK", agrees: "no", notes: "theirs" };
  const rows = differing(fields, mine, theirs);
  expect(rows.map((field) => field.name)).toEqual(["grants", "agrees", "notes"]);
  expect(chosenAlready(rows, before, mine, theirs)).toEqual({ grants: "mine", agrees: "theirs" });
});
