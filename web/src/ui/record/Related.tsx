// Records that refer to the open one, as links to their own places.
import { Link } from "@tanstack/react-router";
import { type Kind, useRecords } from "../../api/records";
import type { SavedRecord } from "../../api/types";
import { inSeries } from "../../app/areas";
import { useSeriesId } from "../../app/series";
import { patternFor, type Word, wordFor } from "../../words/states";
import { StateBar } from "../State";
import styles from "./record.module.css";

export interface RelatedProps {
  title: string;
  kind: Kind;
  /** Place of that kind below the series, as `shoot/releases`. */
  place: string;
  match: (record: SavedRecord) => boolean;
  name: (record: SavedRecord) => string;
  state?: { field: string; words: readonly Word[] };
  /** Said when there is none. */
  none: string;
  /** Words of the link that makes a new one, and what it starts with. */
  add?: { words: string; start: Record<string, string> };
}

export function Related({ title, kind, place, match, name, state, none, add }: RelatedProps) {
  const series = useSeriesId();
  const { data, error } = useRecords(series, kind);
  if (error) return null;
  const found = (data ?? []).filter(match);
  const to = inSeries(series, place);
  return (
    <section>
      <h3>{title}</h3>
      {data && found.length === 0 && <p className="quiet">{none}</p>}
      <ul className={styles.related}>
        {found.map((record) => (
          <li key={record.id}>
            {state && <StateBar pattern={patternFor(state.words, record[state.field])} />}
            <Link to={to} search={{ record: record.id }}>
              {name(record)}
            </Link>
            {state && <span className="quiet">{wordFor(state.words, record[state.field])}</span>}
          </li>
        ))}
      </ul>
      {add && (
        <p className="no-print">
          <Link to={to} search={{ record: "new", ...add.start }}>
            {add.words}
          </Link>
        </p>
      )}
    </section>
  );
}
