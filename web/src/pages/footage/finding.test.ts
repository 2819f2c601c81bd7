import { expect, test } from "vitest";
import {
  countWords,
  isDigest,
  noDigest,
  peopleOf,
  queryOf,
  readAsWords,
  searchOf,
  textOf,
  withoutWords,
} from "./finding";

test("only filters are asked with, and a kept search takes the place of what stood there", () => {
  const search = { q: "100% a_1", person: "p1,p2", record: "r", sort: "name" };
  expect(queryOf(search)).toEqual({ q: "100% a_1", person: "p1,p2" });
  expect(searchOf(textOf(search))).toMatchObject({
    q: "100% a_1",
    person: "p1,p2",
    card: undefined,
  });
  expect(searchOf("q=a&record=x&nonsense=1")).not.toHaveProperty("nonsense");
  expect(peopleOf(search)).toEqual(["p1", "p2"]);
  expect(peopleOf({})).toEqual([]);
});

test("what was put right is said", () => {
  expect(readAsWords([{ typed: "gymansium", words: ["gymnasium"] }])).toBe(
    "“gymansium” stands nowhere; these have “gymnasium”.",
  );
  expect(readAsWords([{ typed: "peir", words: ["pier", "peer"] }])).toBe(
    "“peir” stands nowhere; these have “pier” or “peer”.",
  );
});

test("counts stop at a thousand and say so", () => {
  expect(countWords(1, 1)).toBe("1 file");
  expect(countWords(36, 212)).toBe("36 of 212 files");
  expect(countWords(100, 1001)).toBe("100 of more than 1,000 files");
  expect(countWords(1200, null)).toBe("1,200 files");
});

test("a name that is chosen takes its own words out of what was typed, and no others", () => {
  expect(withoutWords("harbour tölley", "Ines Tolley")).toBe("harbour");
  expect(withoutWords("tolley", "Ines Tolley")).toBeUndefined();
  expect(withoutWords(undefined, "Ines Tolley")).toBeUndefined();
});

test("a digest is known by its form", () => {
  const c4 = `c4${"1".repeat(88)}`;
  for (const text of ["EF46DB3751D8E999", "d41d8cd98f00b204e9800998ecf8427e", c4]) {
    expect(isDigest(text), text).toBe(true);
  }
  const others = ["", "noon", "d41d8cd98f00b204e9800998ecf8427", `c4${"0".repeat(88)}`];
  for (const text of others) expect(isDigest(text), text).toBe(false);
  expect(noDigest("noon")).toContain("no digest (4 characters)");
});
