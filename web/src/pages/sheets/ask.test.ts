import { describe, expect, it } from "vitest";
import type { SheetField, SheetMapping } from "../../api/sheets";
import { isTable } from "../../ui/record/sendList";
import {
  asked,
  importWords,
  missing,
  readAgain,
  setAct,
  setColumn,
  setSame,
  setWord,
  withMapping,
} from "./ask";

const field = (key: string, required = false, joins = false): SheetField => ({
  key,
  label: key,
  required,
  joins,
  choices: [],
  default: null,
});
const fields = [field("credited_name", true, true), field("born"), field("language")];
const mapping: SheetMapping = {
  columns: [
    { heading: "First", field: "credited_name" },
    { heading: "Last", field: null },
    { heading: "DOB", field: "born" },
  ],
  same_in_all: [],
  words: [],
  day_order: null,
  serials: null,
  list_sign: null,
  blank_clears: false,
};

const used = (one: SheetMapping) => one.columns.map((column) => column.field);

describe("what is decided about a list", () => {
  it("joins columns only where a field is made of several", () => {
    expect(used(setColumn(mapping, 1, "credited_name", fields))).toEqual([
      "credited_name",
      "credited_name",
      "born",
    ]);
    expect(used(setColumn(mapping, 1, "born", fields))).toEqual(["credited_name", "born", null]);
    expect(used(setColumn(mapping, 0, null, fields))).toEqual([null, null, "born"]);
  });

  it("names what a new record still needs", () => {
    const none = setColumn(mapping, 0, null, fields);
    expect(missing(none, fields).map((one) => one.key)).toEqual(["credited_name"]);
    expect(missing(setSame(none, "credited_name", "Crowd"), fields)).toEqual([]);
    expect(setSame(setSame(none, "born", "x"), "born", null).same_in_all).toEqual([]);
  });

  it("keeps one decision for a word and one for a row", () => {
    const twice = setWord(setWord(mapping, "status", "odd", "fine"), "status", "odd", "missing");
    expect(twice.words).toEqual([{ field: "status", word: "odd", value: "missing" }]);
    const ask = setAct(setAct(asked, 4, "new"), 4, "update", "r1");
    expect(ask.choices).toEqual([{ number: 4, act: "update", record_id: "r1" }]);
  });

  it("forgets a mapping that no longer fits, and a kept one that was changed", () => {
    const ask = withMapping({ ...asked, kept_mapping: "k" }, mapping);
    expect(ask.kept_mapping).toBeUndefined();
    const again = readAgain(setAct(ask, 2, "skip"), { sheet: "Music" });
    expect(again.mapping).toBeUndefined();
    expect(again.choices).toEqual([]);
    expect(again.sheet).toBe("Music");
  });

  it("says what an import does", () => {
    expect(importWords(12, 3)).toBe("Bring in: make 12, change 3");
    expect(importWords(0, 1)).toBe("Bring in: change 1");
    expect(importWords(0, 0)).toBe("Nothing to bring in");
  });

  it("takes only cells for a table, not a word or a line", () => {
    expect(isTable("Name\tBorn\nAnn\t1990-01-02\n")).toBe(true);
    expect(isTable("Ann\t1990")).toBe(false);
    expect(isTable("two\nlines")).toBe(false);
  });
});
