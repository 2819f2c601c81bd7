// Cards: from the camera to two checked copies, and only then wiped.
import { Link } from "@tanstack/react-router";
import { useSeriesId } from "../../app/series";
import { type Description, text, type Values } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { cardStates, wordFor } from "../../words/states";
import { CardKeeping, ContentElsewhere } from "./CardKeeping";
import { CardSafety } from "./CardSafety";

const isWiped = (values: Values) => values.state === "wiped";

export const cards: Description = {
  kind: "cards",
  one: "card",
  aOne: "a card",
  many: "Cards",
  lead: "Every card that left a camera, and how far it is.",
  action: "edit_footage",
  title: (record) => text(record, "name"),
  state: { field: "state", words: cardStates },
  fields: [
    {
      type: "text",
      name: "name",
      label: "Name",
      max: 100,
      required: true,
      help: "By the series' pattern, date first: 20260314_A003_CAMB_SLIPWAY.",
    },
    { type: "select", name: "state", label: "State", words: cardStates, required: true },
    {
      type: "reference",
      name: "shoot_day_id",
      label: "Shoot day",
      kind: "shoot-days",
      matters: true,
    },
    { type: "date", name: "shot_on", label: "Shot on" },
    { type: "text", name: "camera", label: "Camera" },
    { type: "text", name: "number", label: "Number" },
    { type: "text", name: "wiped_by", label: "Wiped by", when: isWiped, required: true },
    { type: "date", name: "wiped_on", label: "Wiped on", when: isWiped, required: true },
    {
      type: "longText",
      name: "wiped_although",
      label: "Wiped although",
      when: isWiped,
      help: "Only where it was wiped while something stood against it: why. It stays in the audit trail.",
    },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    { name: "name", header: "Name", value: (record) => text(record, "name") },
    {
      name: "state",
      header: "State",
      value: (record) => wordFor(cardStates, record.state),
      phone: true,
    },
    { name: "shot_on", header: "Shot on", value: (record) => text(record, "shot_on"), phone: true },
    { name: "camera", header: "Camera", value: (record) => text(record, "camera") },
    {
      name: "day",
      header: "Shoot day",
      value: (record, lookup) => lookup.name("shoot-days", record.shoot_day_id),
    },
  ],
  order: "-shot_on",
  empty: {
    title: "No cards yet.",
    text: "Cards appear by themselves when a drive is scanned and its folders follow the series' pattern. One that is still in the camera can be entered here.",
  },
};

export function Cards() {
  return (
    <RecordsPage
      description={cards}
      start={(search) => (search.day ? { shoot_day_id: search.day } : {})}
      below={(record) => (
        <>
          <ItsFiles card={record.id} />
          <ContentElsewhere card={record.id} />
          <CardSafety card={record.id} state={text(record, "state")} />
          <CardKeeping card={record.id} />
        </>
      )}
    />
  );
}

function ItsFiles({ card }: { card: string }) {
  const series = useSeriesId();
  return (
    <p className="no-print">
      <Link to="/s/$series/footage/find" params={{ series }} search={{ card }}>
        Its files
      </Link>
    </p>
  );
}
