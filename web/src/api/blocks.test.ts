// What stays on the page when reading it anew fails.
import { expect, test } from "vitest";
import { blocks } from "./blocks";
import { ApiError } from "./client";

const fault = (status: number) => new ApiError(status, "code", "Title", "");

// Source: common practice, no source.
test("a lost connection takes nothing off the page; a refusal does", () => {
  expect(blocks({ error: null, data: undefined })).toBe(false);
  expect(blocks({ error: fault(0), data: undefined })).toBe(true);
  for (const status of [0, 502, 503, 504]) {
    expect(blocks({ error: fault(status), data: [] })).toBe(false);
  }
  // Removed, or no longer the reader's to see: what was read before must not stay.
  for (const status of [401, 403, 404, 500]) {
    expect(blocks({ error: fault(status), data: [] })).toBe(true);
  }
  expect(blocks({ error: new Error("of the page"), data: [] })).toBe(true);
});
