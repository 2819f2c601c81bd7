// What the person decided about a list so far, and each change of it. Pure, so that it can be tested.
import type { RowAct, SheetAsk, SheetField, SheetMapping } from "../../api/sheets";

export const asked: SheetAsk = { for_duplicates: "skip", choices: [] };

/** Another sheet, separator or row of headings: what was mapped before no longer fits. */
export function readAgain(
  ask: SheetAsk,
  change: Pick<SheetAsk, "sheet" | "separator" | "heading_row">,
): SheetAsk {
  const { mapping: _mapping, ...rest } = ask;
  return { ...rest, ...change, choices: [] };
}

export const withMapping = (ask: SheetAsk, mapping: SheetMapping): SheetAsk => {
  const { kept_mapping: _kept, ...rest } = ask;
  return { ...rest, mapping };
};

/** Gives a column a field. A field that is made up of one column only leaves the one that had it. */
export function setColumn(
  mapping: SheetMapping,
  at: number,
  field: string | null,
  fields: readonly SheetField[],
): SheetMapping {
  const joins = fields.find((one) => one.key === field)?.joins ?? false;
  return {
    ...mapping,
    columns: mapping.columns.map((column, index) => {
      if (index === at) return { ...column, field };
      return field !== null && column.field === field && !joins
        ? { ...column, field: null }
        : column;
    }),
  };
}

/** The same content in all rows; null takes the line away. */
export function setSame(mapping: SheetMapping, field: string, text: string | null): SheetMapping {
  const others = (mapping.same_in_all ?? []).filter((one) => one.field !== field);
  return { ...mapping, same_in_all: text === null ? others : [...others, { field, text }] };
}

export function setWord(
  mapping: SheetMapping,
  field: string,
  word: string,
  value: string | null,
): SheetMapping {
  const others = (mapping.words ?? []).filter((one) => one.field !== field || one.word !== word);
  return { ...mapping, words: value === null ? others : [...others, { field, word, value }] };
}

export function setAct(
  ask: SheetAsk,
  number: number,
  act: RowAct,
  record: string | null = null,
): SheetAsk {
  const others = (ask.choices ?? []).filter((one) => one.number !== number);
  return { ...ask, choices: [...others, { number, act, record_id: record }] };
}

/** Fields that a new record needs and that nothing gives yet. */
export function missing(mapping: SheetMapping, fields: readonly SheetField[]): SheetField[] {
  const given = new Set([
    ...mapping.columns.map((column) => column.field),
    ...(mapping.same_in_all ?? []).map((one) => one.field),
  ]);
  return fields.filter((field) => field.required && !given.has(field.key));
}

/** What the import would do, for its button. */
export function importWords(make: number, change: number): string {
  const parts = [make > 0 && `make ${make}`, change > 0 && `change ${change}`].filter(Boolean);
  return parts.length > 0 ? `Bring in: ${parts.join(", ")}` : "Nothing to bring in";
}
