// What is said to somebody whose approval came too late.
import { expect, test } from "vitest";
import type { ElementAnswer } from "../../api/clearance";
import { changedElements } from "./changed";

const element = (id: string, changes: Partial<ElementAnswer> = {}) =>
  ({
    id,
    label: id,
    kind: "person",
    state: "covered",
    reasons: [],
    uses: 1,
    ...changes,
  }) as unknown as ElementAnswer;

// Source: common practice, no source.
test("each element that is different is named with what became of it, and no other", () => {
  const then = [element("Pip"), element("Wren"), element("Abel"), element("Edda")];
  const now = [
    element("Pip", { state: "gap" }),
    element("Wren", { uses: 2 }),
    element("Abel"),
    element("Una", { state: "unknown" }),
  ];
  expect(changedElements(then, now).map(({ label, words }) => `${label} ${words}`)).toEqual([
    "Pip was covered and is gap now.",
    "Wren has other uses, papers or reasons; it is covered, as it was.",
    "Una is new: unknown.",
    "Edda is no longer in it.",
  ]);
  expect(changedElements(then, then)).toEqual([]);
});
