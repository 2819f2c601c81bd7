// Grants in words, and what keeps one from being saved.
import { expect, test } from "vitest";
import { type Grant, grantFault, grantWords, newGrant } from "./grants";

const grant: Grant = {
  territories: ["WORLD"],
  territories_except: ["AU"],
  media: ["television", "on_demand.subscription"],
  media_except: [],
  starts: "signature",
  term: { months: 60 },
  counting: "including",
};

test("a grant reads as a sentence", () => {
  expect(grantWords(grant)).toBe(
    "the world except Australia; television, subscription on demand; from signature for 60 months, the first day counted",
  );
});

test("an end that was not entered is said to be so, never perpetuity", () => {
  expect(grantWords({ ...grant, term: null })).toContain("end not entered");
  expect(grantWords({ ...grant, term: "perpetuity" })).toContain("in perpetuity");
});

test("faults", () => {
  expect(grantFault(grant)).toBeNull();
  expect(grantFault(newGrant())).toContain("no territory");
  expect(grantFault({ ...grant, starts: "2026-10-01", term: { to: "2026-09-30" } })).toContain(
    "ends on 30 Sep 2026, before it begins on 1 Oct 2026",
  );
});
