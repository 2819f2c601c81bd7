// Captions of a cut against the names that people confirmed (R36) and what they asked for (R23). Typed, pasted, taken
// from the cut's titles or from an earlier cut; every change is saved at once and offers undo.

import { Button, Select, Textarea } from "@mantine/core";
import { useQuery, useQueryClient } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useState } from "react";
import { blocks } from "../../api/blocks";
import {
  type CaptionDraft,
  type CaptionList,
  captionsQuery,
  useCaptionChanges,
} from "../../api/captions";
import { type Cut, cutsQuery } from "../../api/clearance";
import { answered, api } from "../../api/client";
import { useMay } from "../../app/may";
import { type Episode, usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useGo } from "../../ui/record/RecordsPage";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { counted, wholeWords } from "../../words/amounts";
import { showInstant } from "../../words/dates";
import { EpisodeChoice } from "../cut/EpisodeChoice";
import { CaptionForm, CaptionRows } from "./CaptionRows";
import styles from "./clearance.module.css";

export function Captions() {
  const series = useSeries();
  return (
    <Page
      title="Captions"
      place={series?.title}
      lead="Names on screen, letter by letter against the names that people confirmed."
    >
      <EpisodeChoice>{(episode) => <OfEpisode episode={episode} />}</EpisodeChoice>
      <Caution>
        A caption that says too much can undo a promised anonymity. Names leak through file names,
        exports and clean covers, too.
      </Caution>
    </Page>
  );
}

function OfEpisode({ episode }: { episode: Episode }) {
  const series = useSeriesId();
  const search = usePageSearch();
  const go = useGo();
  const cuts = useQuery(cutsQuery(series, episode.id));
  if (blocks(cuts)) return <ErrorNote error={cuts.error} retry={() => cuts.refetch()} />;
  if (!cuts.data) return <Waiting what="the cuts" />;
  const cut =
    cuts.data.find((one) => one.id === search.cut) ??
    cuts.data.find((one) => one.current) ??
    cuts.data[0];
  if (!cut) {
    return (
      <EmptyState title={`No cut of “${episode.title}” was imported yet.`}>
        <Link to="/s/$series/cut/versions" params={{ series }} search={{ episode: episode.id }}>
          Import an edit list
        </Link>
        ; captions are entered for a cut.
      </EmptyState>
    );
  }
  return (
    <>
      <div className={`${styles.choosers} no-print`}>
        <Select
          label="Cut"
          data={cuts.data.map((one) => ({
            value: one.id,
            label: one.locked ? `${one.name} (locked)` : one.name,
          }))}
          value={cut.id}
          allowDeselect={false}
          onChange={(id) => go({ cut: id ?? undefined })}
        />
      </div>
      <OfCut key={cut.id} cut={cut} />
    </>
  );
}

function OfCut({ cut }: { cut: Cut }) {
  const series = useSeriesId();
  const may = useMay("log_footage");
  const toasts = useToasts();
  const query = useQuery(captionsQuery(series, cut.id));
  const { replace } = useCaptionChanges(series, cut.id);
  const [adding, setAdding] = useState<"one" | "lines" | null>(null);
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the captions" />;
  const list = query.data;
  const save = (items: readonly CaptionDraft[], said: string) =>
    replace.mutateAsync({ items, version: list.version }).then((after) => {
      toasts.offerUndo(said, () =>
        replace.mutateAsync({ items: list.items, version: after.version }),
      );
    });
  const add = async (drafts: readonly CaptionDraft[]) => {
    const said =
      drafts.length === 1 ? "The caption was added." : `${wholeWords(drafts.length)} were added.`;
    await save([...list.items, ...drafts], said);
    setAdding(null);
  };
  return (
    <>
      <Standing list={list} />
      <ErrorNote error={replace.error} saving />
      {list.items.length > 0 && (
        <CaptionRows
          list={list}
          may={may}
          busy={replace.isPending}
          change={(at, next) =>
            save(
              list.items.map((old, place) => (place === at ? next : old)),
              "The caption was saved.",
            )
          }
          remove={(at) =>
            save(
              list.items.filter((_, place) => place !== at),
              "The caption was taken out.",
            )
          }
        />
      )}
      {may && list.earlier && (
        <TakeOver earlier={list.earlier} saving={replace.isPending} take={add} />
      )}
      {adding === "one" && (
        <CaptionForm
          people={list.people}
          start={{ from: cut.start, to: "", text: "", person_id: null, names_nobody: false }}
          onSave={(draft) => add([draft])}
          onStop={() => setAdding(null)}
        />
      )}
      {adding === "lines" && <Lines cut={cut} add={add} onStop={() => setAdding(null)} />}
      {may && adding === null && (
        <p
          className="no-print"
          style={{ display: "flex", flexWrap: "wrap", gap: 10, marginTop: 14 }}
        >
          <Button variant="default" onClick={() => setAdding("one")}>
            Add a caption
          </Button>
          <Button variant="default" onClick={() => setAdding("lines")}>
            Paste captions, or take the cut's titles
          </Button>
        </p>
      )}
    </>
  );
}

function Standing({ list }: { list: CaptionList }) {
  const count = list.items.length;
  if (count === 0) {
    return (
      <EmptyState title="No caption of this cut is entered.">
        Type them, paste them from a list, or take the titles of the cut. Each name is then compared
        with the one that the person confirmed.
      </EmptyState>
    );
  }
  const captions = counted(count, "caption");
  return (
    <p>
      <Stated pattern={list.open > 0 ? "gap" : "covered"}>
        {list.open > 0
          ? `${list.open} of ${captions} to be put right.`
          : `${captions}; nothing is wrong with the names.`}
      </Stated>{" "}
      <span className="quiet small">
        Changed by {list.updated_by}, {showInstant(list.updated_at)}. Compared letter by letter,
        accents and capitals kept (R36).
      </span>
    </p>
  );
}

function TakeOver({
  earlier,
  saving,
  take,
}: {
  earlier: NonNullable<CaptionList["earlier"]>;
  saving: boolean;
  take: (drafts: readonly CaptionDraft[]) => Promise<void>;
}) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const [error, setError] = useState<unknown>(null);
  const copy = async () => {
    setError(null);
    try {
      await take((await queries.fetchQuery(captionsQuery(series, earlier.cut_id))).items);
    } catch (cause) {
      setError(cause);
    }
  };
  return (
    <p className="no-print">
      <Button variant="default" loading={saving} onClick={copy}>
        Take over {counted(earlier.captions, "caption")} of {earlier.cut_name}
      </Button>{" "}
      <span className="quiet small">
        Their timecodes come as they were; what moved in this cut is to be corrected.
      </span>
      <ErrorNote error={error} />
    </p>
  );
}

/** Lines from a spreadsheet or typed; the cut's own titles as lines to begin with. */
function Lines({
  cut,
  add,
  onStop,
}: {
  cut: Cut;
  add: (drafts: readonly CaptionDraft[]) => Promise<void>;
  onStop: () => void;
}) {
  const series = useSeriesId();
  const [text, setText] = useState("");
  const [note, setNote] = useState("");
  const [error, setError] = useState<unknown>(null);
  const { read } = useCaptionChanges(series, cut.id);
  const titles = async () => {
    setError(null);
    try {
      const { items } = await answered(
        api.GET("/api/series/{series}/cuts/{cut}/events", {
          params: { path: { series, cut: cut.id } },
        }),
      );
      const lines = items
        .filter((one) => one.picture && (one.kind === "generated" || one.match.kind === "unknown"))
        .filter((one) => one.clip.trim())
        .map((one) => `${one.record_in}\t${one.record_out}\t${one.clip.trim()}`);
      setNote(
        lines.length === 0
          ? "The list of this cut has no titles in it."
          : "Keep the lines that are captions, and put their words right.",
      );
      setText((old) => [old.trimEnd(), ...lines].filter(Boolean).join("\n"));
    } catch (cause) {
      setError(cause);
    }
  };
  const take = async () => {
    setError(null);
    try {
      await add(await read.mutateAsync(text));
    } catch (cause) {
      setError(cause);
    }
  };
  return (
    <section aria-label="Paste captions" className="no-print">
      <h2>Paste captions</h2>
      <Textarea
        label="A caption to a line"
        description="In, out, name and, if any, role, apart by tabs or bars. The person is found by the name; what is not certain is left open."
        placeholder={`${cut.start} | ${cut.end} | Ada Quill | Harbour master`}
        autosize
        minRows={4}
        maxRows={16}
        value={text}
        onChange={(event) => setText(event.currentTarget.value)}
      />
      {note && <p className="quiet small">{note}</p>}
      <ErrorNote error={error} saving />
      <p style={{ display: "flex", flexWrap: "wrap", gap: 10 }}>
        <Button loading={read.isPending} disabled={!text.trim()} onClick={take}>
          Add these captions
        </Button>
        <Button variant="default" onClick={titles}>
          Take the cut's titles
        </Button>
        <Button variant="default" onClick={onStop}>
          Stop
        </Button>
      </p>
    </section>
  );
}
