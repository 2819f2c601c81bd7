// A list of records: real table on a desk, plain list on a phone. Sorting and filters stand in the address;
// arrows go from row to row, Enter opens.
import { useMediaQuery } from "@mantine/hooks";
import { Link } from "@tanstack/react-router";
import type { SavedRecord } from "../../api/types";
import { showDate } from "../../words/dates";
import { patternFor } from "../../words/states";
import { StateBar } from "../State";
import type { Column, Description } from "./description";
import { moveByArrows } from "./focus";
import type { Lookup } from "./lookup";
import styles from "./RecordTable.module.css";

interface TableProps {
  description: Description;
  records: readonly SavedRecord[];
  lookup: Lookup;
  sort: string;
  onSort: (sort: string) => void;
  selected: string | undefined;
}

export function RecordTable(props: TableProps) {
  const phone = useMediaQuery("(max-width: 720px)");
  return (
    // biome-ignore lint/a11y/noStaticElementInteractions: arrow keys go between the links inside
    <div onKeyDown={moveByArrows}>{phone ? <AsList {...props} /> : <AsTable {...props} />}</div>
  );
}

function AsTable({ description, records, lookup, sort, onSort, selected }: TableProps) {
  const { state } = description;
  // Beside an open record there is room for what a phone shows, too.
  const columns = selected
    ? description.columns.filter((column, index) => index === 0 || column.phone)
    : description.columns;
  return (
    <div className={styles.scroll}>
      <table className={styles.table}>
        <caption className="visually-hidden">{description.many}</caption>
        <thead>
          <tr>
            {columns.map((column) => (
              <SortHeader key={column.name} column={column} sort={sort} onSort={onSort} />
            ))}
          </tr>
        </thead>
        <tbody>
          {records.map((record) => (
            <tr key={record.id} data-selected={record.id === selected || undefined}>
              {columns.map((column, index) => (
                <td key={column.name} data-align={column.align}>
                  {index === 0 ? (
                    <span className={styles.first}>
                      {state && <StateBar pattern={patternFor(state.words, record[state.field])} />}
                      <RowLink record={record} selected={record.id === selected}>
                        {cellOf(column, record, lookup) || "(no name)"}
                      </RowLink>
                    </span>
                  ) : (
                    cellOf(column, record, lookup)
                  )}
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function SortHeader({
  column,
  sort,
  onSort,
}: {
  column: Column;
  sort: string;
  onSort: (sort: string) => void;
}) {
  const up = sort === column.name;
  const down = sort === `-${column.name}`;
  return (
    <th
      scope="col"
      data-align={column.align}
      aria-sort={up ? "ascending" : down ? "descending" : undefined}
    >
      <button type="button" onClick={() => onSort(up ? `-${column.name}` : column.name)}>
        {column.header}
        <span aria-hidden="true" className={styles.arrow}>
          {up ? "↑" : down ? "↓" : ""}
        </span>
      </button>
    </th>
  );
}

function AsList({ description, records, lookup, selected }: TableProps) {
  const { columns, state } = description;
  const [first, ...rest] = columns;
  const second = rest.filter((column) => column.phone);
  if (!first) return null;
  return (
    <ul className={styles.list}>
      {records.map((record) => (
        <li key={record.id}>
          {state && <StateBar pattern={patternFor(state.words, record[state.field])} />}
          <RowLink record={record} selected={record.id === selected}>
            <span>{cellOf(first, record, lookup) || "(no name)"}</span>
            <span className={styles.second}>
              {second
                .map((column) =>
                  typeof column.phone === "function"
                    ? column.phone(record, lookup)
                    : shownValue(column.value(record, lookup)),
                )
                .filter(Boolean)
                .join(" · ")}
            </span>
          </RowLink>
        </li>
      ))}
    </ul>
  );
}

function RowLink({
  record,
  selected,
  children,
}: {
  record: SavedRecord;
  selected: boolean;
  children: React.ReactNode;
}) {
  return (
    <Link
      to="."
      search={(search) => ({ ...search, record: record.id, edit: undefined })}
      data-row-link={record.id}
      aria-current={selected ? "true" : undefined}
      className={styles.link}
      preload={false}
      resetScroll={false}
    >
      {children}
    </Link>
  );
}

/** Dates don't break in a cell. */
const shownValue = (value: string | number | null): string =>
  typeof value === "string" && /^\d{4}-\d{2}-\d{2}$/.test(value)
    ? showDate(value).replaceAll(" ", "\u00a0")
    : String(value ?? "");

function cellOf(column: Column, record: SavedRecord, lookup: Lookup): React.ReactNode {
  return column.cell ? column.cell(record, lookup) : shownValue(column.value(record, lookup));
}

/** The table as rows of text, its headings first. */
export const shownRows = (
  columns: readonly Column[],
  records: readonly SavedRecord[],
  lookup: Lookup,
): string[][] => [
  columns.map((column) => column.header),
  ...records.map((record) =>
    columns.map((column) => shownValue(column.value(record, lookup)).replaceAll("\u00a0", " ")),
  ),
];

const plainText = (text: string) =>
  text.normalize("NFD").replace(/\p{M}/gu, "").replaceAll("\u00a0", " ").toLowerCase();

/** Every word must stand somewhere in the row; accents and case don't matter. */
export function filtered(
  records: readonly SavedRecord[],
  columns: readonly Column[],
  lookup: Lookup,
  q: string | undefined,
): readonly SavedRecord[] {
  const words = plainText(q ?? "")
    .split(/\s+/)
    .filter(Boolean);
  if (words.length === 0) return records;
  return records.filter((record) => {
    const row = plainText(
      columns.map((column) => shownValue(column.value(record, lookup))).join(" "),
    );
    return words.every((word) => row.includes(word));
  });
}

/** The columns that no record fills, of those that are left out then. */
export const bareColumns = (
  columns: readonly Column[],
  records: readonly SavedRecord[],
  lookup: Lookup,
): Column[] =>
  columns.filter(
    (column) =>
      column.sparse && records.every((record) => (column.value(record, lookup) ?? "") === ""),
  );

/** By the column's value; empty ones stand last whichever way round. */
export function sorted(
  records: readonly SavedRecord[],
  columns: readonly Column[],
  lookup: Lookup,
  sort: string,
): SavedRecord[] {
  const back = sort.startsWith("-");
  const column = columns.find((one) => one.name === sort.replace(/^-/, ""));
  if (!column) return [...records];
  return records.toSorted((a, b) => {
    const x = column.rank?.(a) ?? column.value(a, lookup);
    const y = column.rank?.(b) ?? column.value(b, lookup);
    if (x === null || x === "") return y === null || y === "" ? 0 : 1;
    if (y === null || y === "") return -1;
    const order =
      typeof x === "number" && typeof y === "number"
        ? x - y
        : String(x).localeCompare(String(y), "en-GB", { numeric: true });
    return back ? -order : order;
  });
}
