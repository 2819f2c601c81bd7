// Releases: the signed form, its scan, what it grants and what was promised in return.
import type { SavedRecord } from "../../api/types";
import { Caution } from "../../ui/Notes";
import { type Description, text, type Values } from "../../ui/record/description";
import type { Lookup } from "../../ui/record/lookup";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { releaseKinds, releaseStates, signers, urgency, wordFor } from "../../words/states";

const isKind =
  (...kinds: string[]) =>
  (values: Values) =>
    kinds.includes(String(values.kind));
const ofPerson = isKind("appearance", "minor", "crew", "school");
const ofPlace = isKind("location", "crowd_notice", "school");
const ofAsset = isKind("materials", "artwork");

function whose(record: SavedRecord, lookup: Lookup): string {
  if (record.person_id) return lookup.name("people", record.person_id);
  if (record.place_id) return lookup.name("places", record.place_id);
  if (record.asset_id) return lookup.name("assets", record.asset_id);
  return "nobody named yet";
}

export const releases: Description = {
  kind: "releases",
  one: "release",
  aOne: "a release",
  many: "Releases",
  lead: "Who signed what, when and on whose behalf.",
  action: "edit_releases",
  title: (record, lookup) => `${whose(record, lookup)}, ${wordFor(releaseKinds, record.kind)}`,
  state: { field: "status", words: releaseStates },
  fields: [
    { type: "select", name: "kind", label: "Kind", words: releaseKinds, required: true },
    { type: "reference", name: "person_id", label: "Person", kind: "people", when: ofPerson },
    { type: "reference", name: "place_id", label: "Place", kind: "places", when: ofPlace },
    {
      type: "reference",
      name: "asset_id",
      label: "Material or artwork",
      kind: "assets",
      when: ofAsset,
    },
    { type: "select", name: "status", label: "State", words: releaseStates, required: true },
    {
      type: "longText",
      name: "status_note",
      label: "Why",
      help: "What the problem is, or who decides.",
    },
    { type: "document", name: "document_id", label: "Scan of the signed form", matters: true },
    {
      type: "select",
      name: "signed_by",
      label: "Signed by",
      words: signers,
      clearable: true,
      group: "Signature",
      matters: true,
      help: "Under age, a parent or legal guardian signs. An aunt, teacher or chaperone is somebody else.",
    },
    { type: "text", name: "signed_by_name", label: "Name of who signed", group: "Signature" },
    { type: "date", name: "signed_on", label: "Signed on", group: "Signature", matters: true },
    { type: "date", name: "filmed_from", label: "Filmed from", group: "Signature", matters: true },
    { type: "date", name: "filmed_to", label: "Filmed to", group: "Signature" },
    {
      type: "text",
      name: "entity",
      label: "Production entity on the form",
      group: "Signature",
      matters: true,
    },
    { type: "text", name: "law", label: "Governing law", group: "Signature" },
    {
      type: "text",
      name: "consideration",
      label: "Given in return",
      group: "Signature",
      help: "A fee, a nominal sum, or the opportunity to appear. Left empty, none is stated.",
      matters: true,
    },
    { type: "text", name: "form_version", label: "Version of the form", group: "Signature" },
    { type: "text", name: "original_held", label: "Original held at", group: "Signature" },
    {
      type: "grants",
      name: "grants",
      label: "What it grants",
      group: "Rights",
      help: "Several grants add up. Only what the form says; blank is never perpetuity.",
      matters: true,
    },
    {
      type: "yesNo",
      name: "allows_editing",
      label: "Allows cutting and re-ordering",
      group: "Rights",
    },
    { type: "yesNo", name: "allows_promotion", label: "Allows use in promotion", group: "Rights" },
    {
      type: "restrictions",
      name: "restrictions",
      label: "Restrictions",
      group: "Rights",
      help: "Conditions of the consent. They are checked in every cut that uses this person or place.",
    },
    {
      type: "withdrawal",
      name: "withdrawal",
      label: "Withdrawal",
      group: "Rights",
    },
    {
      type: "longText",
      name: "notes",
      label: "Notes",
      group: "Notes",
      help: "Only what is needed.",
    },
  ],
  columns: [
    { name: "whose", header: "Of whom or what", value: whose },
    {
      name: "kind",
      header: "Kind",
      value: (record) => wordFor(releaseKinds, record.kind),
      phone: true,
    },
    {
      name: "status",
      header: "State",
      value: (record) => wordFor(releaseStates, record.status),
      rank: (record) => urgency(releaseStates, record.status),
      phone: true,
    },
    {
      name: "signed_by",
      header: "Signed by",
      value: (record) => (record.signed_by ? wordFor(signers, record.signed_by) : ""),
    },
    { name: "signed_on", header: "Signed on", value: (record) => text(record, "signed_on") },
    {
      name: "scan",
      header: "Scan",
      value: (record) => (record.document_id ? "kept" : "none"),
    },
  ],
  order: "status",
  empty: {
    title: "No releases yet.",
    text: "A release is a signed form: of a person, a guardian, the owner of a place or of material. Add the person or place first, then the form with its scan.",
  },
  caution: (
    <Caution>
      A scan of a form is not informed consent: that is what the person was told. This is not legal
      advice; counsel and local law decide.
    </Caution>
  ),
};

export function Releases() {
  return (
    <RecordsPage
      description={releases}
      start={(search) => {
        if (search.place) return { kind: "location", place_id: search.place };
        if (search.asset) return { kind: "materials", asset_id: search.asset };
        if (search.person) return { kind: "appearance", person_id: search.person };
        return {};
      }}
    />
  );
}
