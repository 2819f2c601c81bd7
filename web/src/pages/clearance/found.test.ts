// Narrowing the elements of a cut by state and by words.
import { expect, test } from "vitest";
import type { ElementAnswer } from "../../api/clearance";
import { found } from "./Elements";

const element = (label: string, state: string, ...sentences: string[]) =>
  ({
    id: label,
    label,
    state,
    reasons: sentences.map((sentence) => ({ sentence })),
  }) as unknown as ElementAnswer;

// Source: common practice, no source.
test("elements are found by their name or by any reason, in the chosen state", () => {
  const all = [
    element("Pip Marrowby", "gap", "No guardian has signed.", "Nobody has checked it."),
    element("Launching the lifeboat", "gap", "Cleared until 16 Apr 2029."),
    element("Pip's dog", "covered"),
  ];
  const names = (state?: string, typed?: string) =>
    found(all, state, typed).map(({ label }) => label);
  expect(names()).toHaveLength(3);
  expect(names(undefined, "pip")).toEqual(["Pip Marrowby", "Pip's dog"]);
  expect(names("gap", "pip")).toEqual(["Pip Marrowby"]);
  expect(names(undefined, "CHECKED guardian")).toEqual(["Pip Marrowby"]);
  expect(names(undefined, "2029")).toEqual(["Launching the lifeboat"]);
  expect(names("covered", "guardian")).toEqual([]);
});
