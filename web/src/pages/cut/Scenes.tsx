// Scenes of the episodes: cold open, titles, scenes in their order.
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { sceneKinds, wordFor } from "../../words/states";

export const scenes: Description = {
  kind: "scenes",
  one: "scene",
  aOne: "a scene",
  many: "Scenes",
  lead: "What each episode is made of, in its order.",
  action: "edit_schedule",
  title: (record) => text(record, "title"),
  byEpisode: true,
  fields: [
    { type: "reference", name: "episode_id", label: "Episode", kind: "episodes", required: true },
    { type: "whole", name: "position", label: "Place in the order", required: true, initial: 1 },
    {
      type: "select",
      name: "kind",
      label: "Kind",
      words: sceneKinds,
      required: true,
      initial: "scene",
      help: "The titles follow a cold open, where there is one.",
    },
    { type: "text", name: "title", label: "Title", required: true },
    {
      type: "text",
      name: "starts_at",
      label: "Begins at",
      max: 14,
      help: "Timecode in the cut, where known: 10:02:15:00.",
      nullable: true,
    },
    { type: "text", name: "ends_at", label: "Ends at", max: 14, nullable: true },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    { name: "title", header: "Title", value: (record) => text(record, "title") },
    {
      name: "order",
      header: "Order",
      value: (record, lookup) =>
        `${lookup.record("episodes", record.episode_id)?.number ?? "?"}.${record.position}`,
      phone: true,
    },
    {
      name: "kind",
      header: "Kind",
      value: (record) => wordFor(sceneKinds, record.kind),
      phone: true,
    },
    {
      name: "episode",
      header: "Episode",
      value: (record, lookup) => lookup.name("episodes", record.episode_id),
    },
    { name: "starts_at", header: "Begins at", value: (record) => text(record, "starts_at") },
    { name: "ends_at", header: "Ends at", value: (record) => text(record, "ends_at") },
  ],
  order: "order",
  empty: {
    title: "No scenes yet.",
    text: "Write down the cold open, the titles and the scenes of an episode. Clearance then says in which scene an element stands.",
  },
};

export function Scenes() {
  return <RecordsPage description={scenes} />;
}
