// Imports: everything in the cut that the team did not film or record itself.
import { Caution } from "../../ui/Notes";
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Related } from "../../ui/record/Related";
import { assetClasses, bases, licenceStates, releaseStates, wordFor } from "../../words/states";

export const imports: Description = {
  kind: "assets",
  one: "import",
  aOne: "an import",
  many: "Imports",
  lead: "Everything that the team did not film or record: stills, archive, phone video, logos in shot.",
  action: "edit_assets",
  title: (record) => text(record, "title"),
  state: { field: "basis", words: bases },
  fields: [
    { type: "select", name: "class", label: "Class", words: assetClasses, required: true },
    { type: "text", name: "title", label: "Title", required: true },
    { type: "longText", name: "description", label: "Description" },
    { type: "text", name: "owner", label: "Owner", matters: true },
    { type: "text", name: "source", label: "Where it came from", max: 500, matters: true },
    {
      type: "select",
      name: "basis",
      label: "Ground on which it may be shown",
      group: "Ground",
      words: bases,
      required: true,
      initial: "unknown",
      help: "Unknown is an honest answer, and never a yes.",
    },
    { type: "longText", name: "basis_note", label: "Note on the ground", group: "Ground" },
    { type: "text", name: "basis_decided_by", label: "Decided by", group: "Ground", matters: true },
    { type: "date", name: "basis_decided_on", label: "Decided on", group: "Ground" },
    { type: "text", name: "credit_line", label: "Credit line", max: 500, group: "In the cut" },
    {
      type: "lines",
      name: "match_names",
      label: "Names in the cut",
      group: "In the cut",
      help: "File or clip names under which it stands in a cut, one to a line.",
    },
    {
      type: "longText",
      name: "embedded",
      label: "Third-party items inside it",
      group: "In the cut",
      help: "A song on the newsreel, a painting in the still: each needs its own permission.",
    },
  ],
  columns: [
    { name: "title", header: "Title", value: (record) => text(record, "title") },
    {
      name: "class",
      header: "Class",
      value: (record) => wordFor(assetClasses, record.class),
      phone: true,
    },
    {
      name: "basis",
      header: "Ground",
      value: (record) => wordFor(bases, record.basis),
      phone: true,
    },
    { name: "owner", header: "Owner", value: (record) => text(record, "owner") },
    { name: "credit_line", header: "Credit line", value: (record) => text(record, "credit_line") },
  ],
  order: "title",
  empty: {
    title: "Nothing imported yet.",
    text: "Add each still, archive clip, phone video or logo with its owner and the ground on which it may be shown. Licences are added from here.",
  },
  caution: (
    <Caution>
      Fair use and fair dealing need a lawyer, do not travel abroad and do not cover promotion.
      Public-domain dates are estimates.
    </Caution>
  ),
};

export function Imports() {
  return (
    <RecordsPage
      description={imports}
      below={(record) => (
        <>
          <Related
            title="Licences"
            kind="licences"
            place="clearance/licences"
            match={(licence) => licence.asset_id === record.id}
            name={(licence) => text(licence, "licensor")}
            state={{ field: "status", words: licenceStates }}
            none="No licence yet."
            add={{ words: "Add a licence for this", start: { asset: record.id } }}
          />
          <Related
            title="Releases"
            kind="releases"
            place="shoot/releases"
            match={(release) => release.asset_id === record.id}
            name={() => "owner's release"}
            state={{ field: "status", words: releaseStates }}
            none="No owner's release."
            add={{ words: "Add an owner's release", start: { asset: record.id } }}
          />
        </>
      )}
    />
  );
}
