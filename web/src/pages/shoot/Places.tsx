// Places: whose they are, and who may sign for them.
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Related } from "../../ui/record/Related";
import { releaseStates } from "../../words/states";

export const places: Description = {
  kind: "places",
  one: "place",
  aOne: "a place",
  many: "Places",
  lead: "Where the series is shot, whose each place is, and who may sign for it.",
  action: "edit_people",
  title: (record) => text(record, "name"),
  fields: [
    { type: "text", name: "name", label: "Name", required: true },
    { type: "longText", name: "address", label: "Address" },
    { type: "text", name: "owner", label: "Owner", matters: true },
    {
      type: "text",
      name: "signatory",
      label: "Who may sign",
      help: "With their authority: a manager is not the owner.",
      matters: true,
    },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    { name: "name", header: "Name", value: (record) => text(record, "name") },
    { name: "owner", header: "Owner", value: (record) => text(record, "owner"), phone: true },
    { name: "signatory", header: "Who may sign", value: (record) => text(record, "signatory") },
    { name: "address", header: "Address", value: (record) => text(record, "address"), phone: true },
  ],
  order: "name",
  empty: {
    title: "No places yet.",
    text: "A place is anywhere that needs its owner's form: a boathouse, a street, a ferry. Add it once; days and releases refer to it.",
  },
};

export function Places() {
  return (
    <RecordsPage
      description={places}
      below={(record) => (
        <Related
          title="Releases"
          kind="releases"
          place="shoot/releases"
          match={(release) => release.place_id === record.id}
          name={() => "location release"}
          state={{ field: "status", words: releaseStates }}
          none="No form for this place yet."
          add={{ words: "Add a release for this place", start: { place: record.id } }}
        />
      )}
    />
  );
}
