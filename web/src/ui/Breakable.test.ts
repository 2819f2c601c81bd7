// Where a long word without spaces may be broken.
import { expect, test } from "vitest";
import { pieces } from "./Breakable";

// Source: common practice, no source.
test("only long words are broken, at their joints, and nothing is lost", () => {
  expect(pieces("in stock, 2-3 copies")).toEqual(["in", " ", "stock,", " ", "2-3", " ", "copies"]);
  const address = "https://videos.example/watch/mudlark-77-old-boat";
  expect(pieces(address)).toEqual([
    "https://",
    "videos.",
    "example/",
    "watch/",
    "mudlark-",
    "77-",
    "old-",
    "boat",
  ]);
  expect(pieces(`see ${address} there`).join("")).toBe(`see ${address} there`);
});
