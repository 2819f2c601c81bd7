// Showings, past and planned: they use up runs, and a repeat has six questions to answer (rulebook R4, R26).

import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { blocks } from "../../api/blocks";
import { elementStates } from "../../api/clearance";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import type { SavedRecord } from "../../api/types";
import { useSeriesId } from "../../app/series";
import { Caution, ErrorNote, Waiting } from "../../ui/Notes";
import { type Description, text } from "../../ui/record/description";
import { mediaWords } from "../../ui/record/grants";
import { RecordsPage } from "../../ui/record/RecordsPage";
import recordStyles from "../../ui/record/record.module.css";
import { StateWord } from "../../ui/State";
import { wholeWords } from "../../words/amounts";
import { showDate } from "../../words/dates";
import { territoriesWords } from "../../words/places";
import { questions, RepeatCheck, repeatWords } from "./RepeatCheck";

const list = (value: unknown) => (value as string[] | undefined) ?? [];
const isRepeat = (values: Record<string, unknown>) => values.repeat === true;

export const showings: Description = {
  kind: "showings",
  one: "showing",
  aOne: "a showing",
  many: "Showings",
  lead: "When and where an episode was or will be shown. They use up the runs of licences; before a repeat, six questions are due.",
  action: "edit_deliverables",
  title: (record, lookup) =>
    `${lookup.name("episodes", record.episode_id)}, ${showDate(text(record, "day"))}, ${text(record, "at_time")}`,
  byEpisode: true,
  fields: [
    { type: "reference", name: "episode_id", label: "Episode", kind: "episodes", required: true },
    { type: "date", name: "day", label: "Day", required: true },
    {
      type: "text",
      name: "at_time",
      label: "Time",
      max: 5,
      required: true,
      initial: "20:00",
      help: "On the clock of the place, such as 20:30.",
    },
    { type: "territories", name: "territories", label: "Where", required: true },
    { type: "media", name: "media", label: "In which media" },
    { type: "yesNo", name: "repeat", label: "It was shown there before" },
    {
      type: "rows",
      name: "repeat_check.answers",
      label: "Before the repeat",
      row: "Answer",
      group: "Repeat check",
      when: isRepeat,
      help: "Six questions, each with one answer; due when the repeat is scheduled.",
      rowWords: (row) => String(row.question ?? ""),
      of: [
        { type: "select", name: "question", label: "Question", words: questions, required: true },
        { type: "yesNo", name: "yes", label: "Yes, there is something" },
        { type: "longText", name: "note", label: "What, and what is done about it" },
      ],
    },
    {
      type: "text",
      name: "repeat_check.answered_by",
      label: "Answered by",
      group: "Repeat check",
      matters: true,
      when: isRepeat,
    },
    {
      type: "date",
      name: "repeat_check.answered_on",
      label: "Answered on",
      group: "Repeat check",
      when: isRepeat,
    },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    { name: "day", header: "Day", value: (record) => text(record, "day") },
    {
      name: "episode",
      header: "Episode",
      value: (record, lookup) => lookup.name("episodes", record.episode_id),
      phone: true,
    },
    { name: "at_time", header: "Time", value: (record) => text(record, "at_time") },
    {
      name: "where",
      header: "Where",
      value: (record) => territoriesWords(list(record.territories)),
      phone: true,
    },
    { name: "media", header: "Media", value: (record) => mediaWords(list(record.media)) },
    {
      name: "repeat",
      header: "Repeat",
      value: (record) => (record.repeat ? repeatWords(record) : "first"),
      phone: (record) => (record.repeat ? repeatWords(record) : ""),
    },
  ],
  order: "day",
  empty: {
    title: "No showings yet.",
    text: "Add each transmission and screening, planned ones too: licences with a limited number of runs are counted against them.",
  },
  caution: (
    <Caution>
      What counts as one run is for the contract to say; catch-up is not counted here. Times are on
      the clock of the place.
    </Caution>
  ),
};

export const Showings = () => (
  <RecordsPage
    description={showings}
    below={(record) => (
      <>
        {record.repeat === true && <RepeatCheck showing={record} />}
        <Findings showing={record} />
      </>
    )}
  />
);

/** What the records themselves say to the first and the last question. */
function Findings({ showing }: { showing: SavedRecord }) {
  const series = useSeriesId();
  const query = useQuery({
    queryKey: ["series", series, "showing-findings", showing.id, showing.version] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/showings/{id}/findings", {
          params: { path: { series, id: showing.id } },
          signal,
        }),
      ),
    retry: false,
  });
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="what the records say" />;
  const { open, died, not_cleared, cut_name } = query.data;
  const lapsed = not_cleared.filter((one) => one.lapsed);
  const others = not_cleared.filter((one) => !one.lapsed);
  return (
    <section>
      <h3>What the records say</h3>
      <p className="quiet">Measured for that day and those places, in the cut {cut_name}.</p>
      <ul className={recordStyles.related}>
        {open.length > 0 && (
          <li>
            {open.length} of 6 questions before the repeat {open.length === 1 ? "is" : "are"} open.
          </li>
        )}
        {died.map((name) => (
          <li key={name}>{name} has died; tell the broadcaster.</li>
        ))}
        {lapsed.map((one) => (
          <NotCleared key={one.id} one={one} episode={String(showing.episode_id)} />
        ))}
        {open.length + died.length + not_cleared.length === 0 && (
          <li>Nothing in the records speaks against it.</li>
        )}
      </ul>
      {others.length > 0 && (
        <details>
          <summary>Not cleared for other reasons ({wholeWords(others.length)})</summary>
          <ul className={recordStyles.related}>
            {others.map((one) => (
              <NotCleared key={one.id} one={one} episode={String(showing.episode_id)} />
            ))}
          </ul>
        </details>
      )}
    </section>
  );
}

function NotCleared({
  one,
  episode,
}: {
  one: components["schemas"]["NotClearedThen"];
  episode: string;
}) {
  const series = useSeriesId();
  return (
    <li>
      <StateWord words={elementStates} value={one.state} />
      <span>
        <Link
          to="/s/$series/clearance/elements"
          params={{ series }}
          search={{ episode, record: one.id }}
        >
          {one.label}
        </Link>
        : {one.sentence}
      </span>
    </li>
  );
}
