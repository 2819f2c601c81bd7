// Every reading of a drive: who, when, on which machine, and what a verification found that is not as it was.
import { useQuery } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useSeriesId } from "../../app/series";
import { ErrorNote, Waiting } from "../../ui/Notes";
import recordStyles from "../../ui/record/record.module.css";
import { Stated, StateWord } from "../../ui/State";
import { counted, wholeWords } from "../../words/amounts";
import { showInstant } from "../../words/dates";
import { checkKinds, faultResults, wordFor } from "../../words/states";

type Check = components["schemas"]["DriveCheck"];

/** `3 changed, 1 missing`; empty when all was well. */
export function differences(summary: NonNullable<Check["summary"]>): string {
  const counts: [number | undefined, string][] = [
    [summary.changed, "changed"],
    [summary.missing, "missing"],
    [summary.unreadable, "unreadable"],
    [summary.renamed, "renamed"],
    [summary.new, "new"],
    [summary.unknown, "that can't be told"],
  ];
  return counts
    .map(([count, word]) => (count ? `${wholeWords(count)} ${word}` : ""))
    .filter(Boolean)
    .join(", ");
}

export function DriveChecks({ drive }: { drive: string }) {
  const series = useSeriesId();
  const { data, error, refetch } = useQuery({
    queryKey: ["series", series, "drives", "checks", drive],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/drives/{id}/checks", {
          params: { path: { series, id: drive } },
          signal,
        }),
      ),
  });
  if (error) return <ErrorNote error={error} retry={() => refetch()} />;
  if (!data) return <Waiting what="how it was read" />;
  return (
    <section>
      <h3>How it was read</h3>
      {data.items.length === 0 && <p className="quiet">This drive was not read yet.</p>}
      <ul className={recordStyles.related}>
        {data.items.map((check) => (
          <OneCheck key={check.id} check={check} />
        ))}
      </ul>
    </section>
  );
}

function OneCheck({ check }: { check: Check }) {
  const [open, setOpen] = useState(false);
  const complete = check.state === "complete";
  const found = check.summary ? differences(check.summary) : "";
  const details = [
    check.checked_by_name,
    check.machine && `on ${check.machine}`,
    `${counted(check.lines, "file")} below ${check.root}`,
    check.tool,
  ].filter(Boolean);
  return (
    <li>
      <span style={{ flex: 1 }}>
        <Stated pattern={!complete ? "unknown" : found ? "gap" : "covered"}>
          {showInstant(check.completed_at ?? check.created_at)}: {wordFor(checkKinds, check.how)}
          {complete ? "" : "; not complete"}
          {found && `; ${found}`}
        </Stated>
        <span className="quiet small"> {details.join("; ")}</span>
        {found && (
          <details onToggle={(event) => setOpen(event.currentTarget.open)}>
            <summary>What is not as it was</summary>
            {open && <Faults check={check} />}
          </details>
        )}
      </span>
    </li>
  );
}

function Faults({ check }: { check: Check }) {
  const series = useSeriesId();
  const { data, error } = useQuery({
    queryKey: ["series", series, "drives", "faults", check.id],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/drives/{id}/checks/{check}/faults", {
          params: { path: { series, id: check.drive_id, check: check.id } },
          signal,
        }),
      ),
  });
  if (error) return <ErrorNote error={error} />;
  if (!data) return <Waiting what="the differences" />;
  return (
    <ul className={recordStyles.related}>
      {data.items.map((fault) => (
        <li key={fault.path}>
          <span>
            <StateWord words={faultResults} value={fault.result} /> {fault.path}
            <span className="quiet small"> {fault.detail}</span>
          </span>
        </li>
      ))}
      {data.next && (
        <li className="quiet">Only the first {wholeWords(data.items.length)} are listed here.</li>
      )}
    </ul>
  );
}
