// What changes on which day: ends of terms, last days for options, embargoes, showings; soonest first.

import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { blocks } from "../../api/blocks";
import { clearanceQuery, type DayLine } from "../../api/clearance";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { Stated } from "../../ui/State";
import { TakeTable } from "../../ui/TakeTable";
import { counted } from "../../words/amounts";
import { daysBetween, showDate, showDeadline, showDistance } from "../../words/dates";
import type { Pattern } from "../../words/states";
import { type Chosen, CutAndSpec } from "./CutAndSpec";
import styles from "./clearance.module.css";

const kinds: Record<DayLine["kind"], [word: string, pattern: Pattern]> = {
  option_notice: ["notice for an option", "ends_soon"],
  term_ends: ["term ends", "gap"],
  term_begins: ["term begins", "covered"],
  holdback_ends: ["holdback ends", "none"],
  embargo_ends: ["embargo ends", "restricted"],
  need_begins: ["delivery begins", "none"],
  need_ends: ["delivery ends", "none"],
  showing: ["showing", "none"],
};

/** Beyond it a number of days says less than the date. */
const YEAR = 366;

export function Calendar() {
  const series = useSeries();
  return (
    <Page
      title="Days ahead"
      place={series?.title}
      lead="What changes on which day for the elements of a cut."
    >
      <CutAndSpec>{(chosen) => <Days {...chosen} />}</CutAndSpec>
      <Caution>
        Days follow what was entered and the rules shown; where a day rests on a planned date, it
        moves with it.
      </Caution>
    </Page>
  );
}

function Days({ episode, cut, spec }: Chosen) {
  const series = useSeriesId();
  const search = usePageSearch();
  const query = useQuery(clearanceQuery(series, episode.id, spec, cut.id));
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the days ahead" />;
  const { calendar, today, elements, needed } = query.data;
  const all = search.past === "yes";
  const shown = all ? calendar : calendar.filter((line) => line.on >= today);
  const label = (id: string | null) => elements.find((one) => one.id === id)?.label ?? "";
  if (calendar.length === 0) {
    return <EmptyState title="No right in this cut has a day.">Nothing ends or begins.</EmptyState>;
  }
  return (
    <>
      <p className="no-print">
        <Link to="." search={(old) => ({ ...old, past: all ? undefined : "yes" })}>
          {all
            ? "Show only what lies ahead"
            : `Show the past too (${counted(calendar.length, "day")} in all)`}
        </Link>
      </p>
      <TakeTable name="days-ahead">
        <div className={styles.scroll}>
          <table className={`${styles.table} ${styles.days}`}>
            <caption className="visually-hidden">Days, soonest first</caption>
            <thead>
              <tr>
                <th scope="col">Day</th>
                <th scope="col">What</th>
                <th scope="col" className={styles.wide}>
                  Element
                </th>
                <th scope="col">In words</th>
              </tr>
            </thead>
            <tbody>
              {shown.map((line) => {
                const [word, usual] = kinds[line.kind];
                // What ends after the last needed day stands in nobody's way.
                const pattern = line.kind === "term_ends" && line.on >= needed.to ? "none" : usual;
                const element = line.element && (
                  <Link
                    to="/s/$series/clearance/elements"
                    params={{ series }}
                    search={{ episode: episode.id, cut: cut.id, spec, record: line.element }}
                  >
                    {label(line.element)}
                  </Link>
                );
                return (
                  <tr key={`${line.on}${line.kind}${line.element}${line.sentence}`}>
                    <td className={styles.day}>
                      {line.on < today ? showDate(line.on) : showDeadline(line.on)}
                      {line.on >= today && daysBetween(today, line.on) <= YEAR && (
                        <div className="quiet small">{showDistance(line.on, today)}</div>
                      )}
                    </td>
                    <td>
                      <Stated pattern={pattern}>{word}</Stated>
                    </td>
                    <td className={styles.wide}>{element}</td>
                    <td>
                      {line.sentence}
                      {line.provisional && " As planned; it may move."}
                      {element && (
                        <div className={styles.narrow} data-shown-again>
                          {element}
                        </div>
                      )}
                    </td>
                  </tr>
                );
              })}
            </tbody>
          </table>
        </div>
      </TakeTable>
      {shown.length === 0 && <p className="quiet">Nothing lies ahead.</p>}
    </>
  );
}
