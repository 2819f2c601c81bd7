// Episodes: their number, state, slot, and the dates that start the terms of licences.
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Related } from "../../ui/record/Related";
import { showLength } from "../../words/dates";
import { deliverableStates, episodeStates, wordFor } from "../../words/states";

export const episodes: Description = {
  kind: "episodes",
  one: "episode",
  aOne: "an episode",
  many: "Episodes",
  lead: "The dates here start the terms of licences and releases.",
  action: "edit_schedule",
  title: (record) => `${text(record, "number")}. ${text(record, "title")}`,
  state: { field: "status", words: episodeStates },
  fields: [
    { type: "whole", name: "number", label: "Number", required: true, max: 9999 },
    { type: "text", name: "title", label: "Title", required: true },
    { type: "select", name: "status", label: "State", words: episodeStates, required: true },
    {
      type: "length",
      name: "slot_seconds",
      label: "Running time asked for",
      help: "As 58:00. From the broadcaster's specification.",
    },
    {
      type: "date",
      name: "first_transmission",
      label: "First transmission",
      group: "Dates that happened or are fixed",
      deadline: true,
      matters: true,
      help: "Terms that start with it have an unknown end until this is entered.",
    },
    {
      type: "date",
      name: "delivered",
      label: "Delivered",
      group: "Dates that happened or are fixed",
      matters: true,
    },
    {
      type: "date",
      name: "first_use",
      label: "First use anywhere",
      group: "Dates that happened or are fixed",
      matters: true,
    },
    {
      type: "date",
      name: "first_transmission_planned",
      label: "First transmission, planned",
      group: "Planned dates",
      deadline: true,
      help: "Gives provisional ends, marked as such.",
    },
    {
      type: "date",
      name: "delivery_planned",
      label: "Delivery, planned",
      group: "Planned dates",
      deadline: true,
    },
    { type: "longText", name: "notes", label: "Notes", group: "Notes" },
  ],
  columns: [
    {
      name: "number",
      header: "Episode",
      value: (record) => Number(record.number),
      cell: (record) => `${text(record, "number")}. ${text(record, "title")}`,
    },
    {
      name: "status",
      header: "State",
      value: (record) => wordFor(episodeStates, record.status),
      phone: true,
    },
    {
      name: "slot",
      header: "Running time",
      value: (record) => (record.slot_seconds ? Number(record.slot_seconds) : null),
      cell: (record) => (record.slot_seconds ? showLength(Number(record.slot_seconds)) : ""),
      align: "right",
    },
    {
      name: "delivery",
      header: "Delivery",
      value: (record) => text(record, "delivered") || text(record, "delivery_planned"),
      phone: true,
    },
    {
      name: "transmission",
      header: "First transmission",
      value: (record) =>
        text(record, "first_transmission") || text(record, "first_transmission_planned"),
    },
  ],
  order: "number",
  empty: {
    title: "No episodes yet.",
    text: "Add the episodes of the series with their planned dates. Cuts, deliverables and clearance all belong to an episode.",
  },
};

export function Episodes() {
  return (
    <RecordsPage
      description={episodes}
      below={(record) => (
        <>
          <Related
            title="Scenes"
            kind="scenes"
            place="cut/scenes"
            match={(scene) => scene.episode_id === record.id}
            name={(scene) => `${text(scene, "position")}. ${text(scene, "title")}`}
            none="No scenes are written down yet."
            add={{ words: "Add a scene", start: { episode: record.id } }}
          />
          <Related
            title="Deliverables"
            kind="deliverables"
            place="delivery/deliverables"
            match={(one) => one.episode_id === record.id}
            name={(one) => text(one, "item")}
            state={{ field: "status", words: deliverableStates }}
            none="Nothing is owed for this episode yet."
            add={{ words: "Add a deliverable", start: { episode: record.id } }}
          />
        </>
      )}
    />
  );
}
