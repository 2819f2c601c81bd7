// Dates typed and shown. Expected values are plain calendar facts (9 Jan 2029 is a Tuesday).
import { expect, test } from "vitest";
import {
  daysBetween,
  overWords,
  readDate,
  readLength,
  showBytes,
  showDate,
  showDeadline,
  showDistance,
  showLength,
} from "./dates";

test.each([
  ["9 Jan 2029", "2029-01-09"],
  ["Tue 9 January 2029", "2029-01-09"],
  ["9/1/2029", "2029-01-09"],
  ["9.1.29", "2029-01-09"],
  ["2029-1-9", "2029-01-09"],
  ["29 Feb 2028", "2028-02-29"],
])("reads %s", (typed, date) => expect(readDate(typed)).toBe(date));

test.each(["29 Feb 2029", "31/4/2029", "13/13/2029", "soon", "", "9 Foo 2029"])(
  "refuses %j",
  (typed) => expect(readDate(typed)).toBeNull(),
);

test("shows dates, deadlines and distances", () => {
  expect(showDate("2029-01-09")).toBe("9 Jan 2029");
  expect(showDeadline("2029-01-09")).toBe("Tue 9 Jan 2029");
  expect(showDate(null)).toBe("");
  expect(daysBetween("2029-01-09", "2029-09-30")).toBe(264);
  expect(showDistance("2029-01-09", "2029-01-12")).toBe("3 days overdue");
  expect(showDistance("2029-01-12", "2029-01-09")).toBe("in 3 days");
});

test("running times and sizes", () => {
  expect(readLength("58:00")).toBe(3480);
  expect(readLength("1:02:30")).toBe(3750);
  expect(readLength("1:75:00")).toBeNull();
  expect(showLength(3480)).toBe("58:00");
  expect(showBytes(1_500_000_000_000)).toBe("1.50 TB");
});

// Source: rulebook R29 [BBC-DUR] (historic): a slot of 60 minutes asks for 58:00; parts of 11:32, 10:48, 9:57, 12:13 and
// 13:55 come to 58:25, which is 25 s over.
test("R29: the parts of a programme against the running time asked for", () => {
  const parts = ["11:32", "10:48", "9:57", "12:13", "13:55"].map((part) => readLength(part) ?? 0);
  const whole = parts.reduce((sum, part) => sum + part, 0);
  expect(showLength(whole)).toBe("58:25");
  expect(overWords(whole, 3480)).toBe("25 s over the 58:00 asked for");
  expect(overWords(3390, 3480)).toBe("1:30 under the 58:00 asked for");
  expect(overWords(3480.4, 3480)).toBe("as long as asked for, 58:00");
});
