// The clearance and asset report of an episode (R50) as a page, with its other forms to take away.

import { useQuery } from "@tanstack/react-query";
import { blocks } from "../../api/blocks";
import { elementStates } from "../../api/clearance";
import { withQuery } from "../../api/client";
import {
  type ClearanceReport,
  type ReportFormat,
  type ReportRow,
  reportPath,
  reportQuery,
} from "../../api/report";
import { useSeries, useSeriesId } from "../../app/series";
import { Lines } from "../../ui/Lines";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { Scroll } from "../../ui/Scroll";
import { Stated, StateWord } from "../../ui/State";
import table from "../../ui/table.module.css";
import { counted, wholeWords } from "../../words/amounts";
import { showDate, showDeadline, showInstant, showLength } from "../../words/dates";
import { type Chosen, CutAndSpec } from "../clearance/CutAndSpec";
import { IssueIt } from "./IssueIt";
import styles from "./report.module.css";

export function Report() {
  const series = useSeries();
  return (
    <Page
      title="Clearance report"
      place={series?.title}
      lead="Every element of the cut with its state, its papers and what is to be done."
    >
      <CutAndSpec>{(chosen) => <OneReport {...chosen} />}</CutAndSpec>
    </Page>
  );
}

const formats: readonly [ReportFormat, string][] = [
  ["pdf", "PDF"],
  ["xlsx", "Workbook (XLSX)"],
  ["csv", "CSV"],
  ["json", "JSON"],
];

function OneReport({ episode, cut, spec }: Chosen) {
  const series = useSeriesId();
  const query = useQuery(reportQuery(series, episode.id, spec, cut.id));
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the report" />;
  const report = query.data;
  return (
    <>
      <p className={`${styles.forms} no-print`}>
        Take it away as{" "}
        {formats.map(([format, words]) => (
          <a
            key={format}
            href={withQuery(reportPath(series, episode.id, format), { spec, cut: cut.id })}
            download
          >
            {words}
          </a>
        ))}
      </p>
      <IssueIt
        key={`${spec} ${cut.id}`}
        episode={episode.id}
        kind="report"
        asked={{ spec, cut: cut.id }}
      />
      <Head report={report} />
      <Summary report={report} />
      <Rows report={report} />
      <DaysAhead report={report} />
      <Uses report={report} />
      <Lines title="Assumed" lines={report.assumptions} />
      <Lines
        title="Rules applied"
        lines={report.rules.map(({ rule, says }) => (rule ? `${rule}: ${says}` : says))}
      />
      <Lines title="Cautions" lines={report.cautions} />
      <Integrity report={report} />
    </>
  );
}

const exactRate = ({ frame_rate }: ClearanceReport["header"]) =>
  frame_rate.numerator / frame_rate.denominator;

function length(report: ClearanceReport, frames: number): string {
  return showLength(Math.floor(frames / exactRate(report.header) + 0.5));
}

function Head({ report }: { report: ClearanceReport }) {
  const { header } = report;
  const spec = header.specification;
  const names = (list: { name: string }[]) => list.map(({ name }) => name).join(", ");
  const facts: [string, string][] = [
    ["Series", [header.series, header.producer_entity].filter(Boolean).join(", ")],
    ["Episode", [header.episode_number, header.episode_title].filter(Boolean).join(". ")],
    [
      "Cut",
      [
        header.cut_name,
        showDate(header.cut_date),
        header.locked ? "locked" : "not locked, may still change",
        length(report, header.running_frames),
      ]
        .filter(Boolean)
        .join(", "),
    ],
    ["Delivery", [spec.name, spec.version, spec.broadcaster].filter(Boolean).join(", ")],
    ["Needed in", names(spec.territories)],
    ["Needed media", names(spec.media)],
    [
      "Needed from",
      `${showDate(spec.first_day) || "not entered"} to ${showDate(spec.last_day) || "not entered"}`,
    ],
    ["Worked out", `${showInstant(header.made_at)} (series in ${header.time_zone})`],
  ];
  return (
    <dl className={styles.facts}>
      {facts.map(([name, value]) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd>{value}</dd>
        </div>
      ))}
    </dl>
  );
}

function Summary({ report }: { report: ClearanceReport }) {
  const { summary } = report;
  return (
    <section>
      <h2>The answer</h2>
      <p>
        <Stated pattern={summary.blocked ? "gap" : "covered"}>{summary.blocked_because}</Stated>
      </p>
      <p>{summary.window.sentence}</p>
      <ul className={styles.counts}>
        {summary.counts.map(({ state, elements, uses }) => (
          <li key={state}>
            <StateWord words={elementStates} value={state} />: {elements}
            {elements > 0 && <span className="quiet"> in {counted(uses, "use")}</span>}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Rows({ report }: { report: ClearanceReport }) {
  return (
    <section>
      <h2>Elements, worst first</h2>
      <Scroll label="Elements, worst first">
        <table className={`${table.table} ${table.blocks} ${styles.table} ${styles.rows}`}>
          <caption className="visually-hidden">Elements of the cut, worst first</caption>
          <thead>
            <tr>
              <th scope="col">No.</th>
              <th scope="col">Element</th>
              <th scope="col">State</th>
              <th scope="col">Reasons and what to do</th>
              <th scope="col">First use</th>
              <th scope="col">In all</th>
            </tr>
          </thead>
          <tbody>
            {report.rows.map((row) => (
              <Row key={row.key} row={row} total={length(report, row.total_frames)} />
            ))}
          </tbody>
        </table>
      </Scroll>
    </section>
  );
}

function Row({ row, total }: { row: ReportRow; total: string }) {
  const second = [row.kind, row.basis, ...row.papers, row.credit_line].filter(Boolean).join("; ");
  return (
    <tr>
      <td>{row.number}</td>
      <th scope="row">
        {row.label}
        {row.credited_as && row.credited_as !== row.label && ` (${row.credited_as})`}
        <div className="quiet small">{second}</div>
      </th>
      <td>
        <StateWord words={elementStates} value={row.state} />
        {row.needed_by && (
          <div className={`${styles.day} small`}>by {showDeadline(row.needed_by)}</div>
        )}
        {row.ends_on && <div className={`${styles.day} small`}>ends {showDate(row.ends_on)}</div>}
      </td>
      <td>
        {row.reasons.map((reason) => (
          <div key={`${reason.rule}${reason.text}`}>
            {reason.text} {reason.rule && <span className="quiet small">{reason.rule}</span>}
          </div>
        ))}
        {row.to_do.map((todo) => (
          <div key={todo} className={styles.todo}>
            {todo}
          </div>
        ))}
      </td>
      <td>{row.first_use}</td>
      <td>{total}</td>
    </tr>
  );
}

function DaysAhead({ report }: { report: ClearanceReport }) {
  if (report.calendar.length === 0) return null;
  return (
    <section>
      <h2>Days ahead, soonest first</h2>
      <Scroll label="Days ahead">
        <table className={`${table.table} ${table.blocks} ${styles.table}`}>
          <caption className="visually-hidden">Days on which something changes</caption>
          <thead>
            <tr>
              <th scope="col">Day</th>
              <th scope="col">What</th>
              <th scope="col">Element</th>
              <th scope="col">In words</th>
            </tr>
          </thead>
          <tbody>
            {report.calendar.map((day) => (
              <tr key={`${day.on}${day.what}${day.label}${day.sentence}`}>
                <td className={styles.day}>{showDate(day.on)}</td>
                <td>{day.what}</td>
                <td>{day.label}</td>
                <td>{day.sentence}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </Scroll>
    </section>
  );
}

function Uses({ report }: { report: ClearanceReport }) {
  const labels = new Map(report.rows.map((row) => [row.number, row.label]));
  return (
    <details className={styles.uses}>
      <summary>Every use in the order of the cut ({wholeWords(report.uses.length)})</summary>
      <Scroll label="Every use">
        <table className={`${table.table} ${styles.table}`}>
          <caption className="visually-hidden">Every use in the order of the cut</caption>
          <thead>
            <tr>
              <th scope="col">In</th>
              <th scope="col">Out</th>
              <th scope="col">Element</th>
              <th scope="col">Event</th>
              <th scope="col">Track</th>
              <th scope="col">Source</th>
            </tr>
          </thead>
          <tbody>
            {report.uses.map((use) => (
              <tr key={Object.values(use).join(" ")}>
                <td>{use.record_in}</td>
                <td>{use.record_out}</td>
                <td>{labels.get(use.row)}</td>
                <td>{use.event}</td>
                <td>{use.track}</td>
                <td>{[use.source_file, use.reel, use.source_in].filter(Boolean).join(", ")}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </Scroll>
    </details>
  );
}

function Integrity({ report }: { report: ClearanceReport }) {
  const { integrity } = report;
  return (
    <p className="quiet small" style={{ overflowWrap: "anywhere" }}>
      From {integrity.cut_file || "the imported list"}, imported{" "}
      {showInstant(integrity.imported_at) || "at an unknown time"}:{" "}
      {wholeWords(integrity.events_matched)} of {counted(integrity.events, "event")} with a known
      source. SHA-256 {integrity.cut_file_sha256}. {integrity.program}.
    </p>
  );
}
