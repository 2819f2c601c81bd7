// One file: its facts, its copies, what is logged in it and what is not, and which cuts use it.

import { Button } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useCallback, useEffect, useRef } from "react";
import { blocks } from "../../api/blocks";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useKey } from "../../app/keys";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { useTitle } from "../../ui/Page";
import { useGo } from "../../ui/record/RecordsPage";
import recordStyles from "../../ui/record/record.module.css";
import { Stated, StateWord } from "../../ui/State";
import { counted } from "../../words/amounts";
import { showBytes, showDate, showInstant } from "../../words/dates";
import { copyStates, loggedWords, wordFor } from "../../words/states";
import { readRate, showTimecode } from "../../words/timecode";
import { CopyPath } from "./FindTable";
import { logKinds, mannerWords } from "./LogBar";
import { ContactSheet } from "./Pictures";
import { Shots } from "./Shots";
import { Transcripts } from "./Transcripts";
import { useRemove } from "./useRemove";

/** A range arrives as a list of its two frames. */
type FileDetail = Omit<components["schemas"]["FileDetail"], "unlogged"> & {
  unlogged: number[][] | null;
};
type LogLine = components["schemas"]["LogLine"];

export function FilePanel({ id }: { id: string }) {
  const series = useSeriesId();
  const go = useGo();
  const close = useCallback(() => go({ record: undefined }), [go]);
  useKey("Escape", close);
  const query = useQuery({
    queryKey: ["series", series, "files", "one", id],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/files/{id}", { params: { path: { series, id } }, signal }),
      ),
  });
  useTitle(query.data?.name ?? "File");
  // On a narrow screen the file stands instead of the list, so the focus goes with it.
  const head = useRef<HTMLHeadingElement>(null);
  const there = query.data !== undefined;
  useEffect(() => {
    if (there && window.matchMedia("(max-width: 1000px)").matches) head.current?.focus();
  }, [there]);
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the file" />;
  const file = query.data;
  return (
    <>
      <div className={recordStyles.panelHead}>
        <h2 ref={head} tabIndex={-1}>
          {file.name}
        </h2>
        <Button variant="default" size="compact-sm" onClick={close} className="no-print">
          Close
        </Button>
      </div>
      <ContactSheet sheet={file.contact_sheet} poster={file.poster} name={file.name} />
      <Facts file={file} />
      <Log file={file} />
      <Shots shots={file.shots} />
      <Transcripts file={file.id} />
      <Copies file={file} />
      <Uses file={file} />
    </>
  );
}

function Facts({ file }: { file: FileDetail }) {
  const facts: [string, string][] = [
    ["Card", file.card ?? ""],
    ["Shot on", showDate(file.shot_on)],
    ["Reel", file.reel],
    ["Starts at", file.start ?? ""],
    ["Frame rate", file.rate ?? ""],
    ["Size", showBytes(file.size)],
    ...Object.entries(file.hashes).map(([name, value]): [string, string] => [name, value]),
  ];
  return (
    <dl className={recordStyles.facts}>
      {facts
        .filter(([, value]) => value)
        .map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
    </dl>
  );
}

function Log({ file }: { file: FileDetail }) {
  const rate = file.rate ? readRate(file.rate) : null;
  return (
    <section>
      <h3>Who and what is in it</h3>
      <p>
        <StateWord words={loggedWords} value={file.logged} />
      </p>
      <ul className={recordStyles.related}>
        {file.log.map((entry) => (
          <Entry key={entry.id} entry={entry} />
        ))}
      </ul>
      {file.logged === "partly" && file.unlogged && rate && (
        <ul className={recordStyles.related}>
          {file.unlogged.map((range) => (
            <li key={range.join()}>
              <Stated pattern="not_logged">
                Nobody logged frames {showSpan(range, rate)} of it, counted from its first.
              </Stated>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

function showSpan(range: readonly unknown[], rate: NonNullable<ReturnType<typeof readRate>>) {
  return `${showTimecode(Number(range[0]), rate)} to ${showTimecode(Number(range[1]), rate)}`;
}

function Entry({ entry }: { entry: LogLine }) {
  const may = useMay("log_footage");
  const remove = useRemove("log", "The log entry was removed.");
  const what = entry.subject || wordFor(logKinds, entry.kind);
  const where = entry.from && entry.to ? `${entry.from} to ${entry.to}` : "all of it";
  return (
    <li>
      <span style={{ flex: 1 }}>
        {what}
        <span className="quiet small">
          {" "}
          {[mannerWords(entry), where, entry.note].filter(Boolean).join("; ")}
        </span>
        <ErrorNote error={remove.error} saving />
      </span>
      {may && (
        <Button
          variant="default"
          size="compact-sm"
          className="no-print"
          aria-label={`Remove the entry ${what}`}
          loading={remove.isPending}
          onClick={() => remove.mutate(entry)}
        >
          Remove
        </Button>
      )}
    </li>
  );
}

function Copies({ file }: { file: FileDetail }) {
  return (
    <section>
      <h3>Copies</h3>
      {file.copies.length === 0 && <p className="quiet">No drive holds it any more.</p>}
      <ul className={recordStyles.related}>
        {file.copies.map((copy) => (
          <li key={`${copy.drive_id}${copy.path}`}>
            <span>
              <StateWord words={copyStates} value={copy.state} /> on {copy.drive}
              <span className="quiet small">
                {" "}
                {[copy.place, copy.holder, copy.full_path, `read ${showInstant(copy.checked_at)}`]
                  .filter(Boolean)
                  .join("; ")}
              </span>
            </span>
            <CopyPath copy={copy} />
          </li>
        ))}
      </ul>
    </section>
  );
}

function Uses({ file }: { file: FileDetail }) {
  const series = useSeriesId();
  return (
    <section>
      <h3>Used in</h3>
      {file.uses.length === 0 && <p className="quiet">No cut uses it.</p>}
      <ul className={recordStyles.related}>
        {file.uses.map((use) => (
          <li key={use.cut_id}>
            <Link
              to="/s/$series/cut/strip"
              params={{ series }}
              search={{ episode: use.episode_id, cut: use.cut_id }}
            >
              {use.cut}
            </Link>
            <span className="quiet">
              {use.episode}, {counted(use.events, "event")}
            </span>
          </li>
        ))}
      </ul>
    </section>
  );
}
