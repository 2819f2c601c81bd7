// Imports: everything in the cut that the team did not film or record itself.
import { Caution } from "../../ui/Notes";
import { type Description, type Field, text, type Values } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Related } from "../../ui/record/Related";
import {
  assetClasses,
  bases,
  contentFaces,
  contentPresences,
  licenceStates,
  releaseStates,
  wordFor,
} from "../../words/states";

const isBasis =
  (...bases: string[]) =>
  (values: Values) =>
    bases.includes(String(values.basis));

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
    {
      type: "territories",
      name: "basis_territories",
      label: "Free of rights in",
      group: "Ground",
      when: isBasis("public_domain"),
      help: "Where somebody found it free. Left empty, it is unknown everywhere.",
    },
    {
      type: "whole",
      name: "basis_details.published_in",
      label: "Year of first publication",
      min: 1000,
      max: 2200,
      group: "Ground",
      when: isBasis("public_domain"),
      help: "In the US, likely free from 1 January of the 96th year after it; an estimate.",
    },
    {
      type: "whole",
      name: "basis_details.author_died",
      label: "Year of the author's death",
      min: 1000,
      max: 2200,
      group: "Ground",
      when: isBasis("public_domain"),
    },
    {
      type: "date",
      name: "basis_details.lawyers_note_on",
      label: "Lawyer's note of",
      group: "Ground",
      matters: true,
      when: isBasis("fair_dealing", "incidental"),
    },
    {
      type: "text",
      name: "basis_details.lawyers_note_by",
      label: "Written by",
      group: "Ground",
      when: isBasis("fair_dealing", "incidental"),
    },
    {
      type: "threeWay",
      name: "basis_details.on_purpose",
      label: "Put there",
      yes: "on purpose: then it is not incidental",
      no: "by chance",
      group: "Ground",
      when: isBasis("incidental"),
    },
    ...(
      [
        ["disclosed_on", "1. Disclosed on the insurance application"],
        ["approved_on", "2. Approved by the broadcaster in writing"],
        ["opinion_letter_on", "3. Counsel's opinion letter"],
        ["endorsed_on", "4. Insurer's endorsement"],
      ] as const
    ).map(
      ([name, label]): Field => ({
        type: "date",
        name: `basis_details.${name}`,
        label,
        group: "Ground",
        matters: true,
        when: isBasis("fair_use"),
      }),
    ),
    {
      type: "territories",
      name: "basis_details.extends_to",
      label: "Counsel extends it beyond the US to",
      group: "Ground",
      when: isBasis("fair_use"),
    },
    {
      type: "text",
      name: "basis_details.cc_licence",
      label: "Licence, such as CC BY-SA 4.0",
      group: "Ground",
      when: isBasis("creative_commons"),
    },
    {
      type: "yesNo",
      name: "basis_details.shown_unchanged",
      label: "Shown unchanged: not cropped, graded, cut or laid to sound",
      group: "Ground",
      when: isBasis("creative_commons"),
    },
    {
      type: "yesNo",
      name: "basis_details.non_commercial_programme",
      label: "Counsel found the programme to be non-commercial",
      group: "Ground",
      when: isBasis("creative_commons"),
    },
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
      type: "rows",
      name: "contents",
      label: "Who and what is inside",
      row: "Item",
      group: "Inside it",
      help: "A song on the newsreel, a painting in the still, a face: each comes into the cut with it and needs its own permission.",
      rowWords: () => "somebody or something",
      of: [
        {
          type: "reference",
          name: "person_id",
          label: "Person",
          kind: "people",
          when: (row) => !row.asset_id && !row.music_id,
        },
        {
          type: "reference",
          name: "asset_id",
          label: "Import",
          kind: "assets",
          when: (row) => !row.person_id && !row.music_id,
        },
        {
          type: "reference",
          name: "music_id",
          label: "Music",
          kind: "music",
          when: (row) => !row.person_id && !row.asset_id,
        },
        { type: "select", name: "presence", label: "How", words: contentPresences, required: true },
        {
          type: "select",
          name: "face",
          label: "Face",
          words: contentFaces,
          required: true,
          initial: "not_applicable",
        },
        {
          type: "length",
          name: "from_seconds",
          label: "In",
          help: "From the beginning of the import, like 0:20. Empty: from its beginning.",
        },
        {
          type: "length",
          name: "to_seconds",
          label: "Out",
          help: "Counted alike. Empty: to its end. The cue sheet counts from in to out.",
        },
        { type: "text", name: "note", label: "Note" },
      ],
    },
    {
      type: "longText",
      name: "embedded",
      label: "Note on what else is inside",
      group: "Inside it",
      help: "What it names is unknown until it is entered above with its own papers. Where nothing is inside, write “nothing”.",
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
      A ground says on what a use rests; whether it reaches the delivery is worked out under
      Elements. Fair use and fair dealing need a lawyer, do not travel abroad and do not cover
      promotion. Public-domain dates are estimates.
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
