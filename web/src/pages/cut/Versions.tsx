// The cuts of an episode: importing one, what each uses, locking, removing.
import { Button } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useState } from "react";
import { type Cut, cutsQuery } from "../../api/clearance";
import { del, post, put } from "../../api/client";
import { useMay } from "../../app/may";
import { type Episode, useSeries, useSeriesId } from "../../app/series";
import { Ask } from "../../ui/Ask";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { counted, wholeWords } from "../../words/amounts";
import { overWords, showInstant, showLength } from "../../words/dates";
import { framesToSeconds, readRate } from "../../words/timecode";
import styles from "./cut.module.css";
import { EpisodeChoice } from "./EpisodeChoice";
import { ImportCut } from "./ImportCut";

export function Versions() {
  const series = useSeries();
  return (
    <Page
      title="Versions"
      place={series?.title}
      lead="Every cut that was imported, the latest first. Clearance looks at the latest."
    >
      <EpisodeChoice>{(episode) => <Cuts key={episode.id} episode={episode} />}</EpisodeChoice>
    </Page>
  );
}

function Cuts({ episode }: { episode: Episode }) {
  const series = useSeriesId();
  const cuts = useQuery(cutsQuery(series, episode.id));
  const may = useMay("import_cut");
  return (
    <>
      {may && <ImportCut episode={episode} />}
      <ErrorNote error={cuts.error} retry={() => cuts.refetch()} />
      {cuts.isPending && <Waiting what="the cuts" />}
      {cuts.data?.length === 0 && (
        <EmptyState title={`No cut of “${episode.title}” yet.`}>
          Import an edit decision list or an OpenTimelineIO file from the edit. Its events are
          matched with the catalogue; what can't be matched is shown as an unknown source.
        </EmptyState>
      )}
      <ul className={styles.versions} hidden={!cuts.data?.length}>
        {cuts.data?.map((cut) => (
          <CutRow key={cut.id} cut={cut} asked={episode.slot_seconds} />
        ))}
      </ul>
    </>
  );
}

function CutRow({ cut, asked }: { cut: Cut; asked: number | null }) {
  const series = useSeriesId();
  const rate = readRate(cut.rate);
  const { counts } = cut;
  const seconds = rate && framesToSeconds(cut.duration_frames, rate);
  return (
    <li>
      <div className={styles.name}>
        <Link
          to="/s/$series/cut/strip"
          params={{ series }}
          search={{ episode: cut.episode_id, cut: cut.id }}
        >
          {cut.name}
        </Link>
        {cut.current && <span className="quiet"> latest</span>}
        <br />
        <span className="quiet small">
          {cut.source_name && `${cut.source_name}, `}imported {showInstant(cut.created_at)}
          {cut.imported_by_name && ` by ${cut.imported_by_name}`}
        </span>
      </div>
      <div>
        <div className={styles.facts}>
          <span>
            {seconds === null ? "" : showLength(seconds)} at {cut.rate}, {cut.start} to {cut.end}
          </span>
          {seconds !== null && asked !== null && <span>{overWords(seconds, asked)}</span>}
          <span>{cut.locked ? "locked" : "working"}</span>
        </div>
        <div className={styles.facts}>
          <span>{counted(counts.events, "event")}</span>
          <span>{wholeWords(counts.files)} from files</span>
          <span>{counted(counts.imports, "import")}</span>
          <span>{counts.music} music</span>
          <Stated pattern={counts.unknown_sources > 0 ? "unknown" : "covered"}>
            {counts.unknown_sources === 0
              ? "every source known"
              : counted(counts.unknown_sources, "unknown source")}
          </Stated>
        </div>
        {cut.warnings.length > 0 && (
          <details>
            <summary>
              {cut.warnings.length === 1
                ? "1 thing to look at"
                : `${wholeWords(cut.warnings.length)} things to look at`}
            </summary>
            <ul>
              {cut.warnings.map((warning) => (
                <li key={`${warning.at}${warning.text}`}>
                  {warning.at && <span className="quiet">{warning.at}: </span>}
                  {warning.text}
                </li>
              ))}
            </ul>
          </details>
        )}
      </div>
      <CutActs cut={cut} />
    </li>
  );
}

function CutActs({ cut }: { cut: Cut }) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const mayLock = useMay("lock_cut");
  const mayRemove = useMay("import_cut");
  const path = `/api/series/${series}/cuts/${cut.id}`;
  const refresh = () => queries.invalidateQueries({ queryKey: ["series", series] });
  const lock = useMutation({
    mutationFn: (reason: string) =>
      put(`${path}/lock`, { locked: !cut.locked, reason }, cut.version),
    onSuccess: refresh,
  });
  const again = useMutation({
    mutationFn: () => post<Cut>(`${path}/match`),
    onSuccess: async (found) => {
      await refresh();
      toasts.say(
        found.counts.unknown_sources === 0
          ? "Every source is known now."
          : `${wholeWords(found.counts.unknown_sources)} sources are still unknown.`,
      );
    },
  });
  const remove = useMutation({
    mutationFn: () => del(path, cut.version),
    onSuccess: async () => {
      await refresh();
      toasts.offerUndo(`“${cut.name}” was removed.`, async () => {
        await post(`${path}/restore`);
        await refresh();
      });
    },
  });
  const [asking, setAsking] = useState(false);
  return (
    <div>
      <div className={`${styles.acts} no-print`}>
        {mayLock && (
          <Button
            variant="default"
            size="compact-sm"
            loading={lock.isPending}
            aria-label={`${cut.locked ? "Unlock" : "Lock"} ${cut.name}`}
            onClick={() => (cut.locked ? setAsking(true) : lock.mutate(""))}
          >
            {cut.locked ? "Unlock" : "Lock"}
          </Button>
        )}
        {mayRemove && (
          <>
            <Button
              variant="default"
              size="compact-sm"
              loading={again.isPending}
              onClick={() => again.mutate()}
            >
              Look for sources again
            </Button>
            <Button
              variant="default"
              size="compact-sm"
              loading={remove.isPending}
              aria-label={`Remove ${cut.name}`}
              onClick={() => remove.mutate()}
            >
              Remove
            </Button>
          </>
        )}
      </div>
      {asking && (
        <Ask
          title={`Unlock “${cut.name}”?`}
          act="Unlock"
          leave="Keep it locked"
          reason={{ label: "Why", help: "Kept with the change, for everybody who reads it." }}
          run={(reason) => lock.mutateAsync(reason)}
          onClose={() => setAsking(false)}
        >
          The picture may change again. Cue sheets and approvals that rest on it are then measured
          against what is locked next.
        </Ask>
      )}
      <ErrorNote error={(asking ? null : lock.error) ?? remove.error ?? again.error} saving />
    </div>
  );
}
