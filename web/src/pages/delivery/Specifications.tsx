// Delivery specifications: what a broadcaster needs, where, in which media, from when to when.
import { Caution } from "../../ui/Notes";
import { type Description, text } from "../../ui/record/description";
import { mediaWords } from "../../ui/record/grants";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Related } from "../../ui/record/Related";
import { territoriesWords } from "../../words/places";
import { deliverableStates } from "../../words/states";

const list = (value: unknown) => (value as string[] | undefined) ?? [];

export const specifications: Description = {
  kind: "specifications",
  one: "specification",
  aOne: "a specification",
  many: "Specifications",
  lead: "What each delivery needs. Clearance is measured against one of these.",
  action: "edit_specification",
  title: (record) => text(record, "name"),
  fields: [
    { type: "text", name: "name", label: "Name", required: true },
    { type: "text", name: "broadcaster", label: "Broadcaster", matters: true },
    {
      type: "text",
      name: "edition",
      label: "Edition",
      help: "Version and date of the broadcaster's paper. They change; say which one this follows.",
      matters: true,
    },
    {
      type: "territories",
      name: "territories",
      except: "territories_except",
      label: "Needed in",
      group: "Needed rights",
      required: true,
    },
    {
      type: "media",
      name: "media",
      except: "media_except",
      label: "Needed media",
      group: "Needed rights",
      required: true,
    },
    { type: "date", name: "needed_from", label: "From", group: "Needed rights", required: true },
    {
      type: "date",
      name: "needed_to",
      label: "To, last day included",
      group: "Needed rights",
      required: true,
    },
    {
      type: "whole",
      name: "overhang_months",
      label: "Overhang",
      unit: "months",
      group: "Needed rights",
      max: 600,
      initial: 0,
      required: true,
      help: "How long a sub-licence may run past the end. Rights are needed until then.",
    },
    {
      type: "whole",
      name: "runs_needed",
      label: "Runs needed",
      group: "Needed rights",
      max: 10000,
      help: "In each territory and medium. Left empty, licences with a limited number of runs stay unknown.",
    },
    {
      type: "yesNo",
      name: "for_promotion",
      label: "What is delivered is itself a trailer or other promotion",
      group: "Needed rights",
    },
    {
      type: "text",
      name: "version_name",
      label: "Version delivered",
      group: "Needed rights",
      help: "Such as “broadcast”, for licences that are limited to some versions.",
    },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    { name: "name", header: "Name", value: (record) => text(record, "name") },
    {
      name: "broadcaster",
      header: "Broadcaster",
      value: (record) => text(record, "broadcaster"),
      phone: true,
    },
    {
      name: "territories",
      header: "Where",
      value: (record) =>
        territoriesWords(list(record.territories), list(record.territories_except)),
    },
    {
      name: "media",
      header: "Media",
      value: (record) => mediaWords(list(record.media), list(record.media_except)),
    },
    { name: "needed_from", header: "From", value: (record) => text(record, "needed_from") },
    { name: "needed_to", header: "To", value: (record) => text(record, "needed_to"), phone: true },
  ],
  order: "name",
  empty: {
    title: "No specifications yet.",
    text: "A specification says in which territories and media, and from when to when, an episode must be cleared. Without one there is nothing to measure clearance against.",
  },
  caution: (
    <Caution>
      Broadcasters' papers change. The edition and its date are printed in every report.
    </Caution>
  ),
};

export function Specifications() {
  return (
    <RecordsPage
      description={specifications}
      below={(record) => (
        <Related
          title="Deliverables"
          kind="deliverables"
          place="delivery/deliverables"
          match={(one) => one.specification_id === record.id}
          name={(one) => text(one, "item")}
          state={{ field: "status", words: deliverableStates }}
          none="Nothing is owed under this specification yet."
          add={{ words: "Add a deliverable", start: { specification: record.id } }}
        />
      )}
    />
  );
}
