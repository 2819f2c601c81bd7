// One event: where it stands, what it was matched with and how, and saying by hand what it uses.
import { Button, Select } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useCallback, useRef, useState } from "react";
import type { Cut } from "../../api/clearance";
import { answered, api } from "../../api/client";
import { useKey } from "../../app/keys";
import { useMay } from "../../app/may";
import { usePageSearch, useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import { useOpened } from "../../ui/record/focus";
import { useLookup } from "../../ui/record/lookup";
import { useGo } from "../../ui/record/RecordsPage";
import recordStyles from "../../ui/record/record.module.css";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { wholeWords } from "../../words/amounts";
import { ContactSheet } from "../footage/Pictures";
import { type CutEvent, nameOf, patternOf } from "./events";

export function EventPanel({ event, cut }: { event: CutEvent; cut: Cut }) {
  const go = useGo();
  const may = useMay("import_cut");
  const head = useRef<HTMLHeadingElement>(null);
  const close = useCallback(() => go({ record: undefined }), [go]);
  // On a desk the focus stays on the strip, along which one goes from event to event.
  useOpened(String(event.position), head, "on a narrow screen");
  useKey("Escape", close);
  return (
    <>
      <div className={recordStyles.panelHead}>
        <h2 ref={head} tabIndex={-1}>
          Event {event.event || event.position}: {nameOf(event)}
        </h2>
        <Button variant="default" size="compact-sm" onClick={close} className="no-print">
          Close
        </Button>
      </div>
      <p>
        <Stated pattern={patternOf(event)}>{event.words}</Stated>
      </p>
      <ContactSheet sheet={null} poster={event.match.poster} name={nameOf(event)} />
      <Elements event={event} />
      <EventFacts event={event} />
      {may && event.match.kind !== "black" && <SayWhat event={event} cut={cut} />}
    </>
  );
}

function Elements({ event }: { event: CutEvent }) {
  const series = useSeriesId();
  const { episode, cut, spec } = usePageSearch();
  if (event.elements.length === 0) return null;
  return (
    <p>
      <Link
        to="/s/$series/clearance/elements"
        params={{ series }}
        search={{ episode, cut, spec, record: event.elements[0] }}
      >
        {event.elements.length === 1
          ? "Why: the element in it"
          : `Why: the worst of ${wholeWords(event.elements.length)} elements in it`}
      </Link>
    </p>
  );
}

function EventFacts({ event }: { event: CutEvent }) {
  const facts: [string, string][] = [
    ["In the cut", `${event.record_in} to ${event.record_out}`],
    ["Track", event.track],
    ["Scene", event.scene?.title ?? ""],
    ["Reel", event.reel],
    ["Clip", event.clip],
    ["Source", event.source_name],
    ["Source time", event.source_in ? `${event.source_in} to ${event.source_out ?? "?"}` : ""],
    ["Speed", event.speed ?? ""],
    ["Found", event.match.how],
    ["In the list", event.origin],
    ["Remarks", event.comments.join("\n")],
    ["Switched off", event.enabled ? "" : "yes, in the edit"],
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

type Choice = { file_id: string } | { asset_id: string } | { music_id: string } | { none: true };

/** What was chosen by hand holds for every event with the same source, here and in the cuts to come. */
function SayWhat({ event, cut }: { event: CutEvent; cut: Cut }) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const choose = useMutation({
    mutationFn: (choice: Choice) =>
      answered(
        api.PUT("/api/series/{series}/cuts/{cut}/events/{position}/match", {
          params: { path: { series, cut: cut.id, position: event.position } },
          body: choice,
        }),
      ),
    onSuccess: async (_cut, choice) => {
      await queries.invalidateQueries({ queryKey: ["series", series] });
      toasts.say(
        "none" in choice
          ? "Taken back; the source was looked for again."
          : "Remembered for every event with this source, here and in later cuts.",
      );
    },
  });
  const lookup = useLookup(series, ["assets", "music"]);
  return (
    <section>
      <h3>Say what it uses</h3>
      <p className="quiet small">
        The choice is remembered for the series: it holds for every event with the same source.
      </p>
      <ErrorNote error={choose.error} saving />
      <div className={recordStyles.fields}>
        <FileChoice onChoose={(file_id) => choose.mutate({ file_id })} />
        <Select
          label="An import"
          placeholder="Title"
          searchable
          value={event.match.asset_id ?? null}
          data={lookup.choices("assets")}
          nothingFoundMessage="No import of that title; add it under Clearance, Imports"
          onChange={(id) => id && choose.mutate({ asset_id: id })}
        />
        <Select
          label="A piece of music"
          placeholder="Title"
          searchable
          value={event.match.music_id ?? null}
          data={lookup.choices("music")}
          nothingFoundMessage="No music of that title; add it under Clearance, Music"
          onChange={(id) => id && choose.mutate({ music_id: id })}
        />
      </div>
      <Button
        variant="default"
        size="compact-sm"
        loading={choose.isPending}
        onClick={() => choose.mutate({ none: true })}
      >
        Take a choice back
      </Button>
    </section>
  );
}

function FileChoice({ onChoose }: { onChoose: (id: string) => void }) {
  const series = useSeriesId();
  const [typed, setTyped] = useState("");
  const found = useQuery({
    queryKey: ["series", series, "files", "choice", typed],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/files", {
          params: { path: { series }, query: { q: typed, limit: 20 } },
          signal,
        }),
      ),
    enabled: typed.trim().length >= 2,
    placeholderData: (before) => before,
  });
  const files = (found.data?.items ?? []).map((file) => ({
    value: file.id,
    label: file.card ? `${file.name}, ${file.card}` : file.name,
  }));
  return (
    <Select
      label="A file of ours"
      placeholder="Two letters of its name, card or reel"
      searchable
      value={null}
      searchValue={typed}
      onSearchChange={setTyped}
      data={files}
      filter={({ options }) => options}
      nothingFoundMessage={
        typed.trim().length < 2 ? "Type two letters or more" : "No file fits in the catalogue"
      }
      onChange={(id) => id && onChoose(id)}
    />
  );
}
