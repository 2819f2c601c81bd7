import { expect, test } from "vitest";
import { mostUsed } from "./currency";

// By hand.
test("the currency that most licences name", () => {
  expect(mostUsed(["GBP", "", "EUR", "GBP"])).toBe("GBP");
  expect(mostUsed(["", ""])).toBe("");
});
