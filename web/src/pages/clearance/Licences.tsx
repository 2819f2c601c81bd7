// Licences: who allows what, where, in which media, from when to when, and for how much.
import type { SavedRecord } from "../../api/types";
import { Caution } from "../../ui/Notes";
import { type Description, text, type Values } from "../../ui/record/description";
import type { Grant } from "../../ui/record/grants";
import { termWords } from "../../ui/record/grants";
import type { Lookup } from "../../ui/record/lookup";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { favoured, licenceSides, licenceStates, urgency, wordFor } from "../../words/states";

const ofMusic = (values: Values) => values.side !== "whole";
const ofAsset = (values: Values) => values.side === "whole";

const subject = (record: SavedRecord, lookup: Lookup): string =>
  record.music_id ? lookup.name("music", record.music_id) : lookup.name("assets", record.asset_id);

export const licences: Description = {
  kind: "licences",
  one: "licence",
  aOne: "a licence",
  many: "Licences",
  lead: "Territories, media and term of each, as the paper says.",
  action: "edit_licences",
  title: (record, lookup) => `${text(record, "licensor")}, for “${subject(record, lookup)}”`,
  state: { field: "status", words: licenceStates },
  fields: [
    {
      type: "select",
      name: "side",
      label: "What it licenses",
      words: licenceSides,
      required: true,
      help: "For music, say which side; one party may give both.",
    },
    {
      type: "reference",
      name: "asset_id",
      label: "Import",
      kind: "assets",
      required: true,
      when: ofAsset,
    },
    {
      type: "reference",
      name: "music_id",
      label: "Music",
      kind: "music",
      required: true,
      when: ofMusic,
    },
    { type: "text", name: "licensor", label: "Licensor", required: true },
    { type: "text", name: "reference", label: "Their reference" },
    { type: "select", name: "status", label: "State", words: licenceStates, required: true },
    { type: "date", name: "signed_on", label: "Signed on", matters: true },
    { type: "document", name: "document_id", label: "Scan of the licence", matters: true },
    {
      type: "grants",
      name: "grants",
      label: "What it grants",
      group: "Rights",
      matters: true,
      help: "Several grants add up. Adjoining grants join only if no day is missing between them.",
    },
    { type: "yesNo", name: "allows_promotion", label: "Allows use in promotion", group: "Rights" },
    {
      type: "threeWay",
      name: "terms.sublicence",
      label: "May be passed on to distributors",
      yes: "may be passed on",
      no: "may not",
      group: "Rights",
    },
    {
      type: "threeWay",
      name: "terms.exclusive",
      label: "Exclusive",
      yes: "to this production alone",
      no: "not exclusive",
      group: "Rights",
    },
    {
      type: "date",
      name: "terms.holdback_until",
      label: "Owner holds it back until",
      group: "Rights",
    },
    { type: "longText", name: "conditions", label: "Conditions", group: "Rights" },
    { type: "text", name: "terms.law", label: "Governing law", group: "Rights" },
    { type: "text", name: "credit_line", label: "Credit line", max: 500, group: "Rights" },
    { type: "money", name: "fee_minor", currency: "currency", label: "Fee", group: "Money" },
    { type: "date", name: "payment_due", label: "Payment due", deadline: true, group: "Money" },
    {
      type: "select",
      name: "terms.most_favoured",
      label: "Equal terms (most favoured nations)",
      words: favoured,
      clearable: true,
      group: "Money",
      help: "Paid no less than the best paid; a higher fee elsewhere raises this one.",
    },
    {
      type: "text",
      name: "terms.most_favoured_except",
      label: "Parties left out of that",
      max: 500,
      when: (values) => Boolean(values["terms.most_favoured"]),
      group: "Money",
    },
    { type: "billing", name: "terms.minimum_billing", label: "Billed at least", group: "Money" },
    {
      type: "date",
      name: "terms.waiver_asked_on",
      label: "Buyer asked for a waiver on",
      group: "The buyer's waiver",
      help: "Where the buyer must accept fewer rights than its contract asks, it accepts before signature and before the piece goes into a cut.",
    },
    {
      type: "date",
      name: "terms.waiver_approved_on",
      label: "Approved on",
      group: "The buyer's waiver",
    },
    {
      type: "text",
      name: "terms.waiver_approved_by",
      label: "Approved by",
      group: "The buyer's waiver",
    },
    { type: "longText", name: "notes", label: "Notes", group: "Notes" },
  ],
  columns: [
    { name: "subject", header: "For", value: subject },
    {
      name: "licensor",
      header: "Licensor",
      value: (record) => text(record, "licensor"),
      phone: true,
    },
    {
      name: "status",
      header: "State",
      value: (record) => wordFor(licenceStates, record.status),
      rank: (record) => urgency(licenceStates, record.status),
      phone: true,
    },
    { name: "side", header: "Side", value: (record) => wordFor(licenceSides, record.side) },
    {
      name: "term",
      header: "Term",
      value: (record) =>
        ((record.grants as Grant[] | undefined) ?? []).map(termWords).join("; ") ||
        "no grant entered",
    },
    { name: "payment_due", header: "Payment due", value: (record) => text(record, "payment_due") },
  ],
  order: "subject",
  empty: {
    title: "No licences yet.",
    text: "Add the import or the music first; its licences are then added from there or here, with their grants of territories, media and term.",
  },
  caution: (
    <Caution>
      Store what the contract lists. Where it does not say how a term is counted, the earlier end is
      taken and shown as assumed. This is not legal advice.
    </Caution>
  ),
};

export function Licences() {
  return (
    <RecordsPage
      description={licences}
      start={(search) => {
        if (search.music) return { side: "composition", music_id: search.music };
        if (search.asset) return { side: "whole", asset_id: search.asset };
        return {};
      }}
    />
  );
}
