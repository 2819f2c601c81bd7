// What each row would do, with what is wrong or doubled in it, and what the person decides of it.
import { Button, Select } from "@mantine/core";
import {
  PAGE_ROWS,
  type RowAct,
  type RowOutcome,
  type SheetAsk,
  type SheetPreview,
  type SheetRow,
} from "../../api/sheets";
import { Scroll } from "../../ui/Scroll";
import { wholeWords } from "../../words/amounts";
import { showDate } from "../../words/dates";
import { setAct } from "./ask";
import styles from "./sheets.module.css";

const outcomeWords: Record<RowOutcome, string> = {
  new: "new",
  same: "the same",
  changes: "changes a record",
  duplicate: "duplicate",
  faulty: "in error",
};

export interface Shown {
  outcome: RowOutcome | null;
  from: number;
}

export function Rows({
  seen,
  ask,
  shown,
  onAsk,
  onShown,
}: {
  seen: SheetPreview;
  ask: SheetAsk;
  shown: Shown;
  onAsk: (ask: SheetAsk) => void;
  onShown: (shown: Shown) => void;
}) {
  const { counts } = seen;
  const filters: [RowOutcome | null, string, number][] = [
    [null, "All", counts.rows],
    ["new", "New", counts.new],
    ["changes", "Changes", counts.changes],
    ["same", "The same", counts.same],
    ["duplicate", "Duplicates", counts.duplicates],
    ["faulty", "In error", counts.faulty],
  ];
  const total = filters.find(([outcome]) => outcome === shown.outcome)?.[2] ?? 0;
  return (
    <section className={styles.part} aria-labelledby="sheet-rows">
      <h2 id="sheet-rows">What each row does</h2>
      <p className="quiet">Nothing is stored yet.</p>
      <fieldset className={styles.choices} aria-label="Which rows are shown" style={{ border: 0 }}>
        {filters.map(([outcome, words, count]) => (
          <Button
            key={words}
            size="xs"
            style={{ minWidth: 0 }}
            variant={shown.outcome === outcome ? "filled" : "default"}
            aria-pressed={shown.outcome === outcome}
            onClick={() => onShown({ outcome, from: 0 })}
          >
            {words} {wholeWords(count)}
          </Button>
        ))}
      </fieldset>
      {(counts.duplicates > 0 || ask.for_duplicates !== "skip") && (
        <div className={styles.choices}>
          <Select
            label="Duplicates that you don't decide on below"
            data={[
              { value: "skip", label: "are left out" },
              { value: "update", label: "change the record that is there" },
              { value: "new", label: "are made new" },
            ]}
            value={ask.for_duplicates ?? "skip"}
            allowDeselect={false}
            onChange={(act) => onAsk({ ...ask, for_duplicates: (act ?? "skip") as RowAct })}
          />
        </div>
      )}
      {seen.rows.length === 0 ? (
        <p className="quiet">No rows of this sort.</p>
      ) : (
        <Scroll label="Rows of the list">
          <table className={styles.rows}>
            <thead>
              <tr>
                <th scope="col">Row</th>
                <th scope="col">What</th>
                <th scope="col">Is</th>
                <th scope="col">Because</th>
                <th scope="col">So it is</th>
              </tr>
            </thead>
            <tbody>
              {seen.rows.map((row) => (
                <Row key={row.number} row={row} ask={ask} onAsk={onAsk} />
              ))}
            </tbody>
          </table>
        </Scroll>
      )}
      {total > PAGE_ROWS && (
        <div className={styles.choices}>
          <Button
            variant="default"
            disabled={shown.from === 0}
            onClick={() => onShown({ ...shown, from: Math.max(0, shown.from - PAGE_ROWS) })}
          >
            Rows before
          </Button>
          <span>
            {shown.from + 1} to {Math.min(total, shown.from + PAGE_ROWS)} of {total}
          </span>
          <Button
            variant="default"
            disabled={shown.from + PAGE_ROWS >= total}
            onClick={() => onShown({ ...shown, from: shown.from + PAGE_ROWS })}
          >
            Rows after
          </Button>
        </div>
      )}
    </section>
  );
}

function Row({
  row,
  ask,
  onAsk,
}: {
  row: SheetRow;
  ask: SheetAsk;
  onAsk: (ask: SheetAsk) => void;
}) {
  const records = row.duplicates.filter((one) => one.record_id !== null);
  const decided = ask.choices?.find((one) => one.number === row.number);
  const options = [
    { value: "skip", label: "left out" },
    ...records.map((one) => ({
      value: `update ${one.record_id}`,
      label: records.length > 1 ? `a change of “${one.title}”` : "a change of it",
    })),
    ...(row.outcome === "changes" ? [{ value: "update", label: "a change of it" }] : []),
    ...(row.outcome === "changes" ? [] : [{ value: "new", label: "made new" }]),
  ];
  const only = records.length === 1 ? `update ${records[0]?.record_id}` : "update";
  const chosen = decided?.record_id ? `update ${decided.record_id}` : only;
  return (
    <tr data-outcome={row.outcome}>
      <td data-head="Row">{row.number}</td>
      <td>{row.title || "(no name)"}</td>
      <td>{outcomeWords[row.outcome]}</td>
      <td>
        <Because row={row} />
      </td>
      <td className={styles.act}>
        {row.outcome !== "same" && (
          <Select
            aria-label={`What row ${row.number} is`}
            data={options}
            value={row.act === "update" ? chosen : row.act}
            allowDeselect={false}
            onChange={(value) => {
              const [act, record] = (value ?? "skip").split(" ");
              onAsk(setAct(ask, row.number, act as RowAct, record ?? null));
            }}
          />
        )}
      </td>
    </tr>
  );
}

/** A date as people read it, everything else as it is. */
const told = (value: string) =>
  /^\d{4}-\d{2}-\d{2}$/.test(value) ? showDate(value) : value || "(nothing)";

function Because({ row }: { row: SheetRow }) {
  return (
    <ul>
      {row.faults.map((fault) => (
        <li key={`${fault.heading} ${fault.words}`}>
          {(fault.heading || fault.label) && <strong>{fault.heading || fault.label}: </strong>}
          {fault.value && `“${fault.value}” — `}
          {fault.words}
        </li>
      ))}
      {row.duplicates.map((one) => (
        <li key={one.record_id ?? `row ${one.row}`}>
          the same {one.by} as {one.row === null ? `“${one.title}”` : `row ${one.row}`}
        </li>
      ))}
      {row.changes.map((change) => (
        <li key={change.label}>
          {change.label}: {told(change.before)} → {told(change.after)}
        </li>
      ))}
    </ul>
  );
}
