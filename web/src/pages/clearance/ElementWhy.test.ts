// Where the paper behind a reason is opened.
import { expect, test } from "vitest";
import { paperPlace } from "./ElementWhy";

// Source: rulebook 3.1: an artwork's or material's form is a release of its owner.
test("a form is opened among the releases, whatever it is a form for", () => {
  expect(paperPlace("person", undefined, "R3")).toBe("shoot/releases");
  expect(paperPlace("artwork", "released", "R3")).toBe("shoot/releases");
  expect(paperPlace("artwork", undefined, "R19")).toBe("shoot/releases");
  expect(paperPlace("archive", "licensed", "R3")).toBe("clearance/licences");
  expect(paperPlace("music", undefined, "R11")).toBe("clearance/licences");
});
