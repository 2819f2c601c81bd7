// Deliverables: what is owed for each episode, by when, by whom. Sent is not accepted.
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { showDeadline, showDistance } from "../../words/dates";
import { deliverableStates, urgency, wordFor } from "../../words/states";

const DONE = ["accepted", "waived"];

export const deliverables: Description = {
  kind: "deliverables",
  one: "deliverable",
  aOne: "a deliverable",
  many: "Deliverables",
  lead: "What is owed, by when and by whom. Sent is not accepted.",
  action: "edit_deliverables",
  title: (record, lookup) =>
    `${text(record, "item")}, ${lookup.name("episodes", record.episode_id)}`,
  byEpisode: true,
  state: { field: "status", words: deliverableStates },
  fields: [
    {
      type: "text",
      name: "item",
      label: "Item",
      required: true,
      help: "Master, textless elements, cue sheet, script.",
    },
    { type: "reference", name: "episode_id", label: "Episode", kind: "episodes", required: true },
    {
      type: "reference",
      name: "specification_id",
      label: "Specification",
      kind: "specifications",
      matters: true,
    },
    {
      type: "date",
      name: "due_on",
      label: "Due",
      deadline: true,
      matters: true,
      help: "Reminders go out 180, 90, 60, 30, 14, 7 and 1 days before, and weekly while overdue.",
    },
    { type: "reference", name: "owner_id", label: "Owner", kind: "members", matters: true },
    { type: "select", name: "status", label: "State", words: deliverableStates, required: true },
    {
      type: "longText",
      name: "status_note",
      label: "Why",
      help: "The reason of a rejection or waiver.",
    },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    { name: "item", header: "Item", value: (record) => text(record, "item") },
    {
      name: "episode",
      header: "Episode",
      value: (record, lookup) => lookup.name("episodes", record.episode_id),
      phone: true,
    },
    {
      name: "due_on",
      header: "Due",
      value: (record) => text(record, "due_on"),
      cell: (record) => {
        const due = text(record, "due_on");
        if (!due) return <span className="quiet">no date</span>;
        const open = !DONE.includes(text(record, "status"));
        return (
          <>
            {showDeadline(due)}
            {open && <span className="quiet"> {showDistance(due)}</span>}
          </>
        );
      },
      phone: true,
    },
    {
      name: "status",
      header: "State",
      value: (record) => wordFor(deliverableStates, record.status),
      rank: (record) => urgency(deliverableStates, record.status),
      phone: true,
    },
    {
      name: "owner",
      header: "Owner",
      value: (record, lookup) => lookup.name("members", record.owner_id),
    },
  ],
  order: "due_on",
  empty: {
    title: "Nothing is owed yet.",
    text: "List what the broadcaster asks for, with its due date and an owner. Reminders follow by themselves.",
  },
};

export function Deliverables() {
  return (
    <RecordsPage
      description={deliverables}
      start={(search) => (search.specification ? { specification_id: search.specification } : {})}
    />
  );
}
