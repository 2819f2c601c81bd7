// Finding and ordering rows.
import { expect, test } from "vitest";
import type { SavedRecord } from "../../api/types";
import { type Column, text } from "./description";
import { nowhere } from "./lookup";
import { bareColumns, filtered, sorted } from "./RecordTable";

const columns: Column[] = [
  { name: "name", header: "Name", value: (record) => text(record, "name") },
  { name: "day", header: "Day", value: (record) => text(record, "day") },
  { name: "n", header: "Number", value: (record) => (record.n as number | null) ?? null },
];

const rows: SavedRecord[] = [
  ["Müller", "2029-01-09", 10],
  ["Ada", "", 9],
  ["ada2", "2028-12-01", null],
].map(([name, day, n], index) => ({
  id: String(index),
  version: 1,
  created_at: "",
  updated_at: "",
  name,
  day,
  n,
}));

const names = (found: readonly SavedRecord[]) => found.map((record) => record.name);

test("accents and case don't matter, every word must be there, dates are found as shown", () => {
  expect(names(filtered(rows, columns, nowhere, "MULLER"))).toEqual(["Müller"]);
  expect(names(filtered(rows, columns, nowhere, "9 jan 2029"))).toEqual(["Müller"]);
  expect(names(filtered(rows, columns, nowhere, "ada 2028"))).toEqual(["ada2"]);
  expect(filtered(rows, columns, nowhere, "  ")).toHaveLength(3);
});

test("a column's own rank comes before its words", () => {
  const [name] = columns as [Column, ...Column[]];
  const ranked = [{ ...name, rank: (record: SavedRecord) => Number(record.n ?? 0) }];
  expect(names(sorted(rows, ranked, nowhere, "name"))).toEqual(["ada2", "Ada", "Müller"]);
});

test("numbers as numbers, empty ones last both ways", () => {
  expect(names(sorted(rows, columns, nowhere, "n"))).toEqual(["Ada", "Müller", "ada2"]);
  expect(names(sorted(rows, columns, nowhere, "-n"))).toEqual(["Müller", "Ada", "ada2"]);
  expect(names(sorted(rows, columns, nowhere, "-day"))).toEqual(["Müller", "ada2", "Ada"]);
});

test("a column that no record fills is left out, where it may be", () => {
  const sparse = [...columns, { name: "place", header: "Where", value: () => null }].map(
    (column) => ({ ...column, sparse: true }),
  );
  expect(bareColumns(sparse, rows, nowhere).map(({ name }) => name)).toEqual(["place"]);
  expect(bareColumns(sparse, [rows[1] as SavedRecord], nowhere).map(({ name }) => name)).toEqual([
    "day",
    "place",
  ]);
  expect(bareColumns([...columns], [rows[1] as SavedRecord], nowhere)).toEqual([]);
});
