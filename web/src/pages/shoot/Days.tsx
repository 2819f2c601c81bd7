// Shoot days: where, who is expected, how many cards should come back.

import { useQuery } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import type { SavedRecord } from "../../api/types";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { Caution } from "../../ui/Notes";
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Related } from "../../ui/record/Related";
import { Stated } from "../../ui/State";
import { counted, wholeWords } from "../../words/amounts";
import { showDeadline } from "../../words/dates";
import { cardStates } from "../../words/states";
import { isOfDay } from "./arrived";

export const days: Description = {
  kind: "shoot-days",
  one: "shoot day",
  aOne: "a shoot day",
  many: "Shoot days",
  lead: "Where the crew is, who is expected, and how many cards should come back.",
  action: "edit_schedule",
  title: (record) =>
    [showDeadline(text(record, "day")), text(record, "title")].filter(Boolean).join(", "),
  fields: [
    { type: "date", name: "day", label: "Date", required: true, deadline: true },
    { type: "text", name: "title", label: "What is shot" },
    { type: "references", name: "place_ids", label: "Places", kind: "places" },
    {
      type: "whole",
      name: "cards_expected",
      label: "Cards expected",
      help: "Compared with the cards that the scans find for this day.",
      max: 500,
      required: true,
      initial: 0,
    },
    { type: "longText", name: "crew", label: "Crew" },
    { type: "longText", name: "cast_expected", label: "People expected" },
    {
      type: "longText",
      name: "notices_posted",
      label: "Crowd notices",
      help: "Where each notice hung, from when, and which photo shows it. Evidence only; law differs.",
    },
    { type: "longText", name: "risk_note", label: "Risk note" },
  ],
  columns: [
    {
      name: "day",
      header: "Date",
      value: (record) => text(record, "day"),
      cell: (record) => showDeadline(text(record, "day")),
    },
    { name: "title", header: "What", value: (record) => text(record, "title"), phone: true },
    {
      name: "places",
      header: "Places",
      value: (record, lookup) =>
        ((record.place_ids as string[] | undefined) ?? [])
          .map((id) => lookup.name("places", id))
          .join(", "),
      phone: true,
    },
    {
      name: "cards_expected",
      header: "Cards expected",
      value: (record) => Number(record.cards_expected ?? 0),
      align: "right",
    },
  ],
  order: "day",
  empty: {
    title: "No shoot days yet.",
    text: "Each day gets its places, the people expected and the number of cards that should come back. Cards found by a drive scan find their day by the date in their name.",
  },
  caution: <Caution>Safety on location comes before paperwork.</Caution>,
};

export function Days() {
  return (
    <RecordsPage
      description={days}
      below={(record) => (
        <>
          <CardsHome day={record} />
          <Related
            title="Cards of this day"
            kind="cards"
            place="footage/cards"
            match={(card) => isOfDay(card, record)}
            name={(card) => text(card, "name")}
            state={{ field: "state", words: cardStates }}
            none="None came back yet."
            add={{ words: "Enter a card by hand", start: { day: record.id } }}
          />
        </>
      )}
    />
  );
}

/** What came of the cards that a day should bring, once the day is there. */
function CardsHome({ day }: { day: SavedRecord }) {
  const series = useSeriesId();
  const { data } = useQuery({
    queryKey: ["series", series, "arrivals"],
    queryFn: ({ signal }) =>
      answered(api.GET("/api/series/{series}/arrivals", { params: { path: { series } }, signal })),
    enabled: useMay("view_footage"),
  });
  const came = data?.items.find((one) => one.shoot_day_id === day.id);
  if (!came || came.expected + came.arrived === 0) return null;
  const { arrived, expected, missing } = came;
  return (
    <p>
      <Stated pattern={missing === 0 ? "covered" : "gap"}>
        {wholeWords(arrived)} of {counted(expected, "expected card")}{" "}
        {arrived === 1 ? "has" : "have"} arrived on a drive
        {missing > 0 ? `; ${wholeWords(missing)} missing` : ""}.
      </Stated>
    </p>
  );
}
