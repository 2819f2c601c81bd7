// Return paths after signing in: the cases of ASVS 5.0 requirement 3.7.2.
import { expect, test } from "vitest";
import { safeReturn } from "./session";

test.each([
  "//evil.example",
  "/\\evil.example",
  "\\\\evil.example",
  "/\t/evil.example",
  "/%09/evil\n",
  "https://evil.example/",
  "javascript:alert(1)",
  "",
  null,
])("%j leads home", (path) => expect(safeReturn(path)).toBe("/"));

test("a path on this site is kept whole", () => {
  expect(safeReturn("/s/1/shoot/people?record=2#x")).toBe("/s/1/shoot/people?record=2#x");
});
