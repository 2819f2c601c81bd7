import { expect, test } from "vitest";
import { andList } from "./lists";

test("names in a sentence", () => {
  expect(andList([])).toBe("");
  expect(andList(["A"])).toBe("A");
  expect(andList(["A", "B"])).toBe("A and B");
  expect(andList(["A", "B", "C"])).toBe("A, B and C");
});
