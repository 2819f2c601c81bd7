// Releases: the signed form, its scan, what it grants and what was promised in return.
import type { SavedRecord } from "../../api/types";
import { Caution } from "../../ui/Notes";
import { type Description, text, type Values } from "../../ui/record/description";
import type { Lookup } from "../../ui/record/lookup";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { releaseCautions } from "../../words/cautions";
import {
  consentPoints,
  hiddenFrom,
  releaseKinds,
  releaseStates,
  signers,
  urgency,
  wordFor,
} from "../../words/states";
import { ChildLicence } from "./ChildLicence";
import { SealedNotes } from "./SealedNotes";
import { Withdrawal } from "./Withdrawal";
import { withdrawalFields } from "./withdrawalFields";

const isKind =
  (...kinds: string[]) =>
  (values: Values) =>
    kinds.includes(String(values.kind));
const ofPerson = isKind("appearance", "minor", "crew", "school", "team", "league");
const ofPlace = isKind("location", "crowd_notice", "school");
const ofAsset = isKind("materials", "artwork", "team", "league");
const isNotice = isKind("crowd_notice");
const isMinor = isKind("minor");
const isLocation = isKind("location");
const isMaterial = isKind("materials");
const isCrew = isKind("crew");
const hasMarks = isKind("location", "team", "league");
const isBeside = isKind("school", "team", "league");
const promisesDisguise = (values: Values) =>
  ((values.restrictions as { kind: string }[] | undefined) ?? []).some(
    ({ kind }) => kind === "blur_face" || kind === "change_voice",
  );

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
    {
      type: "document",
      name: "document_id",
      label: "Scan of the signed form",
      matters: true,
    },
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
    { type: "text", name: "details.name_on_form", label: "Name on the form", group: "Signature" },
    {
      type: "text",
      name: "details.capacity",
      label: "Signed in which capacity",
      group: "Signature",
      help: "Mother, owner, manager with written authority.",
    },
    { type: "text", name: "details.witness", label: "Witness", group: "Signature" },
    { type: "text", name: "details.place_filmed", label: "Filmed at", group: "Signature" },
    {
      type: "text",
      name: "details.language",
      label: "Explained in which language",
      group: "Signature",
    },
    {
      type: "threeWay",
      name: "details.understood",
      label: "Understood by whoever signed",
      yes: "understood",
      no: "not understood",
      group: "Signature",
    },
    {
      type: "several",
      name: "details.told",
      label: "What was explained",
      words: consentPoints,
      group: "Signature",
      help: "A scan is not informed consent; this is.",
    },
    {
      type: "longText",
      name: "details.dispute",
      label: "Dispute",
      group: "Signature",
      help: "Two guardians who disagree, a child who is older now and objects. While anything stands here, the form does not hold.",
    },
    {
      type: "threeWay",
      name: "details.child_agrees",
      label: "The child agrees too",
      yes: "agrees",
      no: "does not agree",
      when: isMinor,
      group: "Child",
    },
    { type: "text", name: "details.chaperone", label: "Chaperone", when: isMinor, group: "Child" },
    {
      type: "text",
      name: "details.child_licence",
      label: "Council's or school's licence",
      when: isMinor,
      group: "Child",
      help: "Its reference. In the UK, a council's form goes in at least 21 days before filming.",
    },
    {
      type: "threeWay",
      name: "details.child.in_uk",
      label: "Filmed in the UK",
      yes: "in the UK",
      no: "elsewhere",
      when: isMinor,
      group: "Child",
    },
    {
      type: "dates",
      name: "details.child.performed_on",
      label: "Days on which the child performed before",
      when: isMinor,
      group: "Child",
      help: "One to a line, anywhere, in the last six months. After at most three such days one further day needs no licence, unpaid and without missing school.",
    },
    {
      type: "threeWay",
      name: "details.child.paid",
      label: "Paid, beyond expenses",
      yes: "paid",
      no: "not paid",
      when: isMinor,
      group: "Child",
    },
    {
      type: "threeWay",
      name: "details.child.misses_school",
      label: "Absent from school for it",
      yes: "misses school",
      no: "misses no school",
      when: isMinor,
      group: "Child",
    },
    {
      type: "threeWay",
      name: "details.child.own_event",
      label: "The school's or club's own event, which nobody directs",
      yes: "an own event",
      no: "not an own event",
      when: isMinor,
      group: "Child",
    },
    {
      type: "date",
      name: "details.child.asked_on",
      label: "Council asked on",
      when: isMinor,
      group: "Child",
    },
    {
      type: "date",
      name: "details.child.granted_on",
      label: "Council's licence granted on",
      when: isMinor,
      group: "Child",
    },
    {
      type: "longText",
      name: "details.areas",
      label: "Areas, inside and outside",
      when: isLocation,
      group: "The place",
    },
    {
      type: "text",
      name: "details.insurance",
      label: "Insurance",
      when: isLocation,
      group: "The place",
    },
    {
      type: "longText",
      name: "details.marks",
      label: "Logos, marks and artworks",
      when: hasMarks,
      group: "Marks",
    },
    {
      type: "text",
      name: "details.event_terms",
      label: "Ticket terms, host broadcaster",
      when: isBeside,
      group: "Marks",
    },
    {
      type: "longText",
      name: "details.items",
      label: "What exactly",
      when: isMaterial,
      group: "The material",
    },
    {
      type: "threeWay",
      name: "details.copyright_warranted",
      label: "Copyright",
      yes: "warranted by the giver",
      no: "not theirs: they own the object only",
      when: isMaterial,
      matters: true,
      group: "The material",
      help: "The owner of a print is not the photographer.",
    },
    {
      type: "text",
      name: "details.people_shown",
      label: "People in it",
      when: isMaterial,
      group: "The material",
    },
    {
      type: "date",
      name: "details.originals_returned_on",
      label: "Originals returned on",
      when: isMaterial,
      group: "The material",
    },
    {
      type: "text",
      name: "details.how_shown",
      label: "How it is shown",
      when: isKind("artwork", "team", "league"),
      group: "Marks",
    },
    {
      type: "yesNo",
      name: "details.at_every_entrance",
      label: "Posted at each entrance",
      when: isNotice,
      group: "Notice",
    },
    {
      type: "text",
      name: "details.posted_at",
      label: "Posted on, date and time",
      when: isNotice,
      matters: true,
      group: "Notice",
    },
    {
      type: "text",
      name: "details.announcements",
      label: "Announcements made",
      when: isNotice,
      group: "Notice",
    },
    {
      type: "longText",
      name: "details.floor_plan",
      label: "Where each notice hung",
      when: isNotice,
      group: "Notice",
      help: "A notice is evidence, not consent: for adults in the background only, never for somebody who is interviewed, singled out, or a child.",
    },
    { type: "text", name: "details.role", label: "Role", when: isCrew, group: "Work" },
    {
      type: "date",
      name: "details.work_began_on",
      label: "Work began on",
      when: isCrew,
      group: "Work",
    },
    {
      type: "threeWay",
      name: "details.moral_rights_waived",
      label: "Moral rights",
      yes: "waived",
      no: "not waived",
      when: isCrew,
      group: "Work",
    },
    {
      type: "longText",
      name: "details.crew_terms",
      label: "Equipment, confidentiality",
      when: isCrew,
      group: "Work",
    },
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
      type: "select",
      name: "details.disguise.from",
      label: "Hidden from whom",
      words: hiddenFrom,
      clearable: true,
      when: promisesDisguise,
      matters: true,
      group: "Disguise",
      help: "Never assume the level: agree it with the person, and record it. Until then it is unknown whether the uses may be shown.",
    },
    {
      type: "longText",
      name: "details.disguise.how",
      label: "How",
      when: promisesDisguise,
      matters: true,
      group: "Disguise",
      help: "What is blurred, how the voice is changed, what of clothes, hands and place is not seen. Names leak through file names, captions and clean covers too.",
    },
    {
      type: "text",
      name: "details.disguise.agreed_with",
      label: "Agreed with whom, and by whom",
      when: promisesDisguise,
      matters: true,
      group: "Disguise",
    },
    {
      type: "date",
      name: "details.disguise.agreed_on",
      label: "Agreed on",
      when: promisesDisguise,
      matters: true,
      group: "Disguise",
    },
    ...withdrawalFields,
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
      below={(record) => (
        <>
          {record.kind === "minor" && <ChildLicence release={record} />}
          {record.person_id !== null && <Withdrawal release={record} />}
          <SealedNotes kind="release" subject={record.id} />
          {releaseCautions(record).map((caution) => (
            <Caution key={caution}>{caution}</Caution>
          ))}
        </>
      )}
      start={(search) => {
        if (search.place) return { kind: "location", place_id: search.place };
        if (search.asset) return { kind: "materials", asset_id: search.asset };
        if (search.person) return { kind: "appearance", person_id: search.person };
        return {};
      }}
    />
  );
}
