// What is told of whom a delivery contact receives for.
import { expect, test } from "vitest";
import { receivesWords } from "./Members";

// Rulebook 8: a broadcaster's delivery contact sees no other buyers.
test("whose contact somebody is stands beside their role, and what it means while nobody said", () => {
  expect(receivesWords("Northern Channel", ["Northern Channel", "Southern Channel"])).toBe(
    "receives for Northern Channel",
  );
  expect(receivesWords(null, ["Northern Channel", "Southern Channel"])).toMatch(/sees nothing/);
  expect(receivesWords(null, ["Northern Channel"])).toMatch(/receives all that is issued/);
});
