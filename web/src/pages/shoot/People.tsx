// People: their name as credited, their age in the least detail that serves, who signs for them.
import { Caution } from "../../ui/Notes";
import { type Description, text, type Values } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Related } from "../../ui/record/Related";
import { showDate } from "../../words/dates";
import { ageBands, permissions, releaseKinds, releaseStates, wordFor } from "../../words/states";
import { SealedNotes } from "./SealedNotes";

const mayBeMinor = (values: Values) => values.age_band !== "adult";

export const people: Description = {
  kind: "people",
  one: "person",
  aOne: "a person",
  many: "People",
  lead: "Everybody who is seen or heard, by the name that they want to be credited with.",
  action: "edit_people",
  title: (record) => text(record, "credited_name"),
  fields: [
    {
      type: "text",
      name: "credited_name",
      label: "Name as credited",
      help: "Exactly as it will stand on screen, accents and all.",
      required: true,
    },
    { type: "text", name: "legal_name", label: "Legal name" },
    {
      type: "text",
      name: "credited_name_confirmed_by",
      label: "Credited name confirmed by",
      matters: true,
    },
    { type: "date", name: "credited_name_confirmed_on", label: "Confirmed on" },
    { type: "text", name: "pronunciation", label: "Pronunciation" },
    { type: "text", name: "language", label: "Language" },
    {
      type: "text",
      name: "recognised_by",
      label: "Recognised by",
      help: "What tells this person from others in the pictures: red cap, bow seat.",
    },
    {
      type: "select",
      name: "age_band",
      label: "Age",
      group: "Age",
      words: ageBands,
      clearable: true,
      matters: true,
      help: "Enough where no date of birth is needed. Left empty, the age is unknown, and unknown is never a yes.",
    },
    {
      type: "date",
      name: "born",
      label: "Date of birth",
      group: "Age",
      help: "Only if it is needed.",
    },
    { type: "date", name: "died", label: "Died", group: "Age" },
    {
      type: "text",
      name: "guardian_name",
      label: "Guardian",
      group: "Guardian",
      when: mayBeMinor,
      help: "A parent or legal guardian. A teacher, chaperone or grandparent is not one by default.",
    },
    {
      type: "text",
      name: "guardian_relationship",
      label: "Relationship",
      group: "Guardian",
      when: mayBeMinor,
    },
    {
      type: "longText",
      name: "guardian_contact",
      label: "Guardian's contact",
      group: "Guardian",
      when: mayBeMinor,
    },
    {
      type: "several",
      name: "also_needed",
      label: "Also needed",
      words: permissions,
      group: "Permissions beside the person's own",
      help: "A school's, team's or league's permission stands beside the person's or guardian's, never for it.",
    },
    { type: "longText", name: "contact", label: "Contact", group: "Restricted" },
    {
      type: "yesNo",
      name: "sensitive",
      label: "Handle with care",
      help: "Contributor at risk or anonymous. Names leak through file names, exports, captions and clean covers.",
      group: "Restricted",
    },
    {
      type: "longText",
      name: "notes",
      label: "Notes",
      group: "Restricted",
      help: "Only what is needed.",
    },
  ],
  columns: [
    {
      name: "credited_name",
      header: "Name as credited",
      value: (record) => text(record, "credited_name"),
    },
    {
      name: "age",
      header: "Age",
      value: (record) =>
        record.age_band
          ? wordFor(ageBands, record.age_band)
          : record.born
            ? `born ${showDate(text(record, "born"))}`
            : "age unknown",
      phone: true,
    },
    {
      name: "guardian_name",
      header: "Guardian",
      value: (record) => text(record, "guardian_name"),
    },
    {
      name: "confirmed",
      header: "Name confirmed",
      value: (record) =>
        text(record, "credited_name_confirmed_on") || text(record, "credited_name_confirmed_by"),
    },
    {
      name: "recognised_by",
      header: "Recognised by",
      value: (record) => text(record, "recognised_by"),
      phone: true,
    },
  ],
  order: "credited_name",
  empty: {
    title: "Nobody yet.",
    text: "Add the people who are seen or heard: contributors, passers-by who are singled out, voices. Their releases are added from here.",
  },
  caution: (
    <Caution>
      Enter only what is needed. Under 18, welfare comes first: an immediate concern goes to the
      safeguarding lead or the emergency services, not into a note.
    </Caution>
  ),
};

export function People() {
  return (
    <RecordsPage
      description={people}
      below={(record) => (
        <>
          <Related
            title="Releases"
            kind="releases"
            place="shoot/releases"
            match={(release) => release.person_id === record.id}
            name={(release) =>
              [wordFor(releaseKinds, release.kind), showDate(text(release, "signed_on"))]
                .filter(Boolean)
                .join(", ")
            }
            state={{ field: "status", words: releaseStates }}
            none="No form for this person yet."
            add={{ words: "Add a release for this person", start: { person: record.id } }}
          />
          <SealedNotes kind="person" subject={record.id} />
        </>
      )}
    />
  );
}
