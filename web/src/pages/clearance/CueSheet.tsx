// The cue sheet of an episode. The cut gives the cues and their lengths; a person says how each is used, completes
// the head, and issues it. What was issued stays as it was sent, and the page says when it is no longer true.

import { Button, Select } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { blocks } from "../../api/blocks";
import { cutsQuery } from "../../api/clearance";
import { ApiError } from "../../api/client";
import {
  cueSheetQuery,
  draftPath,
  useCueSheetChanges,
  type WorkingSheet,
} from "../../api/cueSheets";
import { useMay } from "../../app/may";
import { type Episode, usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useGo } from "../../ui/record/RecordsPage";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { counted, wholeWords } from "../../words/amounts";
import { showDeadline, showLength } from "../../words/dates";
import { EpisodeChoice } from "../cut/EpisodeChoice";
import reportStyles from "../delivery/report.module.css";
import { CueRows } from "./CueRows";
import { CueSheetHead } from "./CueSheetHead";
import styles from "./clearance.module.css";
import { IssuedSheets } from "./IssuedSheets";

export function CueSheet() {
  const series = useSeries();
  return (
    <Page
      title="Cue sheet"
      place={series?.title}
      lead="Every use of music in the cut, as the societies want it listed."
    >
      <EpisodeChoice>{(episode) => <OfEpisode episode={episode} />}</EpisodeChoice>
    </Page>
  );
}

function OfEpisode({ episode }: { episode: Episode }) {
  const series = useSeriesId();
  const search = usePageSearch();
  const go = useGo();
  const cuts = useQuery(cutsQuery(series, episode.id));
  const query = useQuery({
    ...cueSheetQuery(series, episode.id, search.cut),
    retry: (count, error) => !(error instanceof ApiError) && count < 3,
  });
  if (blocks(cuts)) return <ErrorNote error={cuts.error} retry={() => cuts.refetch()} />;
  if (cuts.data?.length === 0) {
    return (
      <>
        <EmptyState title={`No cut of “${episode.title}” was imported yet.`}>
          <Link to="/s/$series/cut/versions" params={{ series }} search={{ episode: episode.id }}>
            Import an edit list
          </Link>
          ; its music is then listed here.
        </EmptyState>
        <IssuedSheets episode={episode.id} />
      </>
    );
  }
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data || !cuts.data) return <Waiting what="the cue sheet" />;
  const working = query.data;
  return (
    <>
      <div className={`${styles.choosers} no-print`}>
        <Select
          label="Cut"
          data={cuts.data.map((one) => ({
            value: one.id,
            label: one.locked ? `${one.name} (locked)` : one.name,
          }))}
          value={working.sheet.head.cut_id}
          allowDeselect={false}
          onChange={(id) => go({ cut: id ?? undefined })}
        />
      </div>
      <Standing working={working} />
      <p className={`${reportStyles.forms} no-print`}>
        Take the draft away as{" "}
        {(["pdf", "xlsx", "csv"] as const).map((form) => (
          <a
            key={form}
            href={draftPath(series, episode.id, working.sheet.head.cut_id, form)}
            download
          >
            {form.toUpperCase()}
          </a>
        ))}
      </p>
      <CueRows working={working} episode={episode.id} />
      <Points working={working} />
      <CueSheetHead working={working} episode={episode.id} />
      <Filing working={working} episode={episode.id} />
      <Issue working={working} episode={episode.id} />
      <IssuedSheets episode={episode.id} />
      <section>
        <h2>Assumed</h2>
        <ul>
          {working.sheet.assumptions.map((line) => (
            <li key={line}>{line}</li>
          ))}
        </ul>
      </section>
      <Caution>
        Titles, writers, publishers and shares are as they were entered; the societies’ own records
        decide. Public-domain dates are estimates.
      </Caution>
    </>
  );
}

export const openPoints = ({ sheet }: WorkingSheet) =>
  sheet.open.length + sheet.lines.reduce((sum, line) => sum + line.open.length, 0);

/** The sums, and whether the sheet that was sent is still true. */
function Standing({ working }: { working: WorkingSheet }) {
  const { sheet, since_issued: age } = working;
  const open = openPoints(working);
  const part = sheet.music_part;
  return (
    <section aria-label="Where it stands">
      <p className={styles.verdict}>
        {counted(sheet.lines.length, "cue")}, {showLength(sheet.music_seconds)} of music
        {part !== null && `, ${(part / 10).toFixed(1)} % of the programme`}
        {sheet.other_seconds !== null && (
          <span className="quiet">
            {" "}
            ({sheet.rule.total === "of_frames" ? "sum of the rounded cues" : "all frames at once"}:{" "}
            {showLength(sheet.other_seconds)})
          </span>
        )}
      </p>
      <p>
        <Stated pattern={open > 0 ? "gap" : "covered"}>
          {open === 0
            ? "Nothing is open."
            : open === 1
              ? "1 point is open."
              : `${open} points are open.`}
        </Stated>
      </p>
      {age && (
        <p>
          <Stated pattern={age.stale ? "gap" : "covered"}>
            {age.stale
              ? `The sheet that was issued last is out of date. ${age.reasons.join(" ")}`
              : "The sheet that was issued last is still true."}
          </Stated>
        </p>
      )}
      {age && age.changes.length > 0 && (
        <details>
          <summary>
            What is different from the issued sheet ({wholeWords(age.changes.length)})
          </summary>
          <ul>
            {age.changes.map((change) => (
              <li key={`${change.kind} ${change.was} ${change.is}`}>
                {change.is !== null ? `Cue ${change.is}` : `Cue ${change.was} of the issued sheet`},{" "}
                “{change.title}”: {change.words}
              </li>
            ))}
          </ul>
        </details>
      )}
    </section>
  );
}

function Points({ working }: { working: WorkingSheet }) {
  if (working.sheet.open.length === 0) return null;
  return (
    <section>
      <h2>Open about the sheet as a whole</h2>
      <ul>
        {working.sheet.open.map((line) => (
          <li key={line}>{line}</li>
        ))}
      </ul>
    </section>
  );
}

export function Filing({ working, episode }: { working: WorkingSheet; episode: string }) {
  const may = useMay("edit_deliverables");
  const { filing } = useCueSheetChanges(useSeriesId(), episode);
  const toasts = useToasts();
  return (
    <section>
      <h2>When societies want it</h2>
      <p className="quiet">
        Each society has its own rule. Switch on those that hold for this programme; each becomes a
        deliverable with its reminders. A series producer, a post supervisor or a production
        coordinator may switch them on
        {may ? "." : "; with your roles you can't, so ask one of them."}
      </p>
      <ErrorNote error={filing.error} saving />
      <ul className={styles.filing}>
        {working.filing.map((one) => (
          <li key={one.rule}>
            {one.words}:{" "}
            {one.due ? (
              <>
                {showDeadline(one.due)}
                {one.planned && " (planned)"}
              </>
            ) : (
              <span className="quiet">
                not known, the episode lacks the day that it counts from
              </span>
            )}
            {one.switched_on ? (
              <span className="quiet"> — among the deliverables</span>
            ) : (
              one.due && (
                <>
                  {" "}
                  <Button
                    variant="default"
                    size="compact-sm"
                    className="no-print"
                    disabled={!may}
                    loading={filing.isPending}
                    aria-label={`Add to deliverables: ${one.words}`}
                    onClick={() =>
                      filing.mutate(one.rule, {
                        onSuccess: () => toasts.say("Added to the deliverables."),
                      })
                    }
                  >
                    Add to deliverables
                  </Button>
                </>
              )
            )}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Issue({ working, episode }: { working: WorkingSheet; episode: string }) {
  const may = useMay("edit_assets");
  const { issue } = useCueSheetChanges(useSeriesId(), episode);
  const toasts = useToasts();
  if (!may) return null;
  const { head } = working.sheet;
  const open = openPoints(working);
  return (
    <section className="no-print">
      <h2>Issue it</h2>
      {head.cut_locked ? (
        <>
          <p className="quiet">
            An issued sheet is kept as it is sent and can't be changed.{" "}
            {open > 0 &&
              `${open === 1 ? "1 point is" : `${open} points are`} open and will be printed on it.`}
          </p>
          <ErrorNote error={issue.error} saving />
          <Button
            loading={issue.isPending}
            onClick={() =>
              issue.mutate(
                { cut_id: head.cut_id, with_open_points: open > 0 },
                { onSuccess: (made) => toasts.say(`Sheet ${made.number} was issued.`) },
              )
            }
          >
            {open > 0 ? "Issue it with its open points" : "Issue this sheet"}
          </Button>
        </>
      ) : (
        <p>A sheet is issued from a locked cut. Lock this one first, or choose one that is.</p>
      )}
    </section>
  );
}
