// Who changed what, when, from what to what; newest first. Lines are only ever added.
import { Button } from "@mantine/core";
import { useInfiniteQuery } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import type { AuditLine } from "../../api/types";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useGo } from "../../ui/record/RecordsPage";
import { showInstant } from "../../words/dates";
import styles from "./team.module.css";

export function Audit() {
  const id = useSeriesId();
  const series = useSeries();
  const { subject_id } = usePageSearch();
  const go = useGo();
  const query = useInfiniteQuery({
    queryKey: ["series", id, "audit", subject_id],
    queryFn: ({ pageParam, signal }) =>
      answered(
        api.GET("/api/series/{series}/audit", {
          params: {
            path: { series: id },
            query: {
              ...(subject_id && { subject_id }),
              ...(pageParam !== null && { after: pageParam }),
            },
          },
          signal,
        }),
      ),
    initialPageParam: null as number | null,
    getNextPageParam: (last) => last.next,
  });
  const lines = (query.data?.pages.flatMap((page) => page.items) ?? []) as AuditLine[];
  return (
    <Page
      title="Changes"
      place={series?.title}
      lead={
        subject_id ? "Of one record, newest first." : "Everything in this series, newest first."
      }
      action={
        subject_id && (
          <Button variant="default" onClick={() => go({ subject_id: undefined })}>
            Show all changes
          </Button>
        )
      }
    >
      <ErrorNote error={query.error} retry={() => query.refetch()} />
      {query.isPending && <Waiting what="the changes" />}
      {query.data && lines.length === 0 && (
        <EmptyState title="No changes yet.">Every change from now on will stand here.</EmptyState>
      )}
      <ol className={styles.lines}>
        {runs(lines).map((run) => (
          <li key={run[0].id}>{run.length < 3 ? run.map(one) : <Run lines={run} />}</li>
        ))}
      </ol>
      {query.hasNextPage && (
        <Button
          variant="default"
          mt="md"
          loading={query.isFetchingNextPage}
          onClick={() => query.fetchNextPage()}
        >
          Show older ones
        </Button>
      )}
    </Page>
  );
}

type Lines = [AuditLine, ...AuditLine[]];

const one = (line: AuditLine) => (
  <div key={line.id}>
    <Line line={line} />
  </div>
);

/** Lines in a row that say the same of many records: one person, one act, one kind, in one request or minute. */
export function runs(lines: readonly AuditLine[]): Lines[] {
  const out: Lines[] = [];
  for (const line of lines) {
    const before = out.at(-1);
    const last = before?.at(-1);
    if (before && last && alike(last, line)) before.push(line);
    else out.push([line]);
  }
  return out;
}

function alike(a: AuditLine, b: AuditLine): boolean {
  const together =
    (a.request_id !== null && a.request_id === b.request_id) ||
    Math.abs(Date.parse(a.at) - Date.parse(b.at)) < 60_000;
  return (
    together &&
    a.actor_id === b.actor_id &&
    a.action === b.action &&
    a.subject_kind === b.subject_kind
  );
}

/** A run as one line: how many, and the names of the first; all of them when it is opened. */
function Run({ lines }: { lines: Lines }) {
  const [first] = lines;
  const names = [...new Set(lines.map(nameOf).filter((name) => name !== null))];
  const named = names.slice(0, 3).map((name) => `“${name}”`);
  if (names.length > 3) named.push("…");
  return (
    <details>
      <summary>
        <time dateTime={first.at}>{showInstant(first.at)}</time>
        {" · "}
        {first.actor_name} · {first.action.replaceAll(/[-_.]/g, " ")} · {lines.length} times{" "}
        {kindWords(first)}
        {named.length > 0 && `: ${named.join(", ")}`}
      </summary>
      {lines.map(one)}
    </details>
  );
}

const kindWords = (line: AuditLine): string => line.subject_kind.replaceAll(/[-_]/g, " ");

function nameOf(line: AuditLine): string | null {
  const record = line.after ?? line.before ?? {};
  const name =
    record.credited_name ??
    record.title ??
    record.name ??
    record.file_name ??
    record.label ??
    record.item ??
    record.licensor ??
    record.email ??
    record.note;
  return typeof name === "string" && name !== "" ? name : null;
}

const subjectName = (line: AuditLine): string => {
  const name = nameOf(line);
  return name ? `${kindWords(line)} “${name}”` : kindWords(line);
};

const OWN = ["version", "updated_at", "created_at", "id", "series_id", "deleted_at"];

/** Field names that differ between before and after. */
export function changedFields(line: Pick<AuditLine, "before" | "after">): string[] {
  const before = line.before ?? {};
  const after = line.after ?? {};
  return [...new Set([...Object.keys(before), ...Object.keys(after)])].filter(
    (name) =>
      !OWN.includes(name) &&
      JSON.stringify(before[name] ?? null) !== JSON.stringify(after[name] ?? null),
  );
}

function Line({ line }: { line: AuditLine }) {
  const changed = changedFields(line);
  const words = (
    <>
      <time dateTime={line.at}>{showInstant(line.at)}</time>
      {" · "}
      {line.actor_name} · {line.action.replaceAll(/[-_.]/g, " ")} · {subjectName(line)}
    </>
  );
  if (changed.length === 0) return words;
  return (
    <details>
      <summary>{words}</summary>
      <table className={styles.changes}>
        <caption className="visually-hidden">What changed</caption>
        <thead>
          <tr>
            <th scope="col">Field</th>
            <th scope="col">Before</th>
            <th scope="col">After</th>
          </tr>
        </thead>
        <tbody>
          {changed.map((name) => (
            <tr key={name}>
              <th scope="row">{name.replaceAll("_", " ")}</th>
              <td>{valueWords(line.before?.[name])}</td>
              <td>{valueWords(line.after?.[name])}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </details>
  );
}

function valueWords(value: unknown): string {
  if (value === null || value === undefined || value === "") return "(nothing)";
  return typeof value === "string" ? value : JSON.stringify(value, null, 1);
}
