// Music: a work in a recording. Both sides need permission, and each may come from somebody else.
import { useRecords } from "../../api/records";
import type { SavedRecord } from "../../api/types";
import { useSeriesId } from "../../app/series";
import { Caution } from "../../ui/Notes";
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Related } from "../../ui/record/Related";
import { Stated } from "../../ui/State";
import {
  licenceSides,
  licenceStates,
  musicOrigins,
  shareConventions,
  wordFor,
} from "../../words/states";

export const music: Description = {
  kind: "music",
  one: "piece of music",
  aOne: "a piece of music",
  many: "Music",
  lead: "Each piece has two sides: the composition, and this recording of it.",
  action: "edit_assets",
  title: (record) => text(record, "title"),
  fields: [
    { type: "text", name: "title", label: "Title", required: true },
    { type: "select", name: "origin", label: "Origin", words: musicOrigins, required: true },
    {
      type: "parties",
      name: "parties",
      label: "Parties and shares",
      help: "Writers and publishers with their shares go on the cue sheet. Each side comes to 100 %.",
      group: "For the cue sheet",
    },
    {
      type: "select",
      name: "share_convention",
      label: "What the shares are parts of",
      words: shareConventions,
      required: true,
      initial: "each_side",
      group: "For the cue sheet",
    },
    {
      type: "text",
      name: "publisher_note",
      label: "Why there is no publisher",
      help: "For instance: unpublished. Leave empty where a publisher is named.",
      max: 500,
      group: "For the cue sheet",
    },
    {
      type: "reference",
      name: "same_work_id",
      kind: "music",
      label: "Another recording of",
      help: "The composition, its parties and its ISWC are then taken from there.",
      group: "For the cue sheet",
    },
    { type: "text", name: "composers", label: "Composers", max: 1000, matters: true },
    { type: "text", name: "publishers", label: "Publishers", max: 1000, matters: true },
    { type: "text", name: "performers", label: "Performers", max: 1000 },
    { type: "text", name: "label", label: "Label" },
    { type: "text", name: "catalogue_number", label: "Catalogue and track number" },
    { type: "text", name: "iswc", label: "ISWC (work)", max: 20 },
    { type: "text", name: "isrc", label: "ISRC (recording)", max: 20 },
    {
      type: "yesNo",
      name: "composition_public_domain",
      label: "The composition is in the public domain",
      help: "The recording may still need permission. The date is an estimate and differs by country.",
    },
    {
      type: "territories",
      name: "composition_territories",
      label: "Free of rights in",
      when: (values) => values.composition_public_domain === true,
      help: "Where somebody found it free. Left empty, it is unknown everywhere.",
    },
    { type: "longText", name: "composition_note", label: "Note on the composition" },
    {
      type: "lines",
      name: "match_names",
      label: "Names in the cut",
      help: "File or clip names under which it stands in a cut, one to a line.",
    },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    { name: "title", header: "Title", value: (record) => text(record, "title") },
    {
      name: "composers",
      header: "Composers",
      value: (record) => text(record, "composers"),
      phone: true,
    },
    {
      name: "performers",
      header: "Performers",
      value: (record) => text(record, "performers"),
      phone: true,
    },
    { name: "origin", header: "Origin", value: (record) => wordFor(musicOrigins, record.origin) },
    { name: "label", header: "Label", value: (record) => text(record, "label") },
  ],
  order: "title",
  empty: {
    title: "No music yet.",
    text: "Add each piece that is heard, also a choir singing in shot. Its two licences, for the composition and for the recording, are added from here.",
  },
  caution: (
    <Caution>
      Public-domain dates are estimates. A new recording of an old song has rights of its own.
    </Caution>
  ),
};

export function Music() {
  return (
    <RecordsPage
      description={music}
      below={(record) => (
        <>
          <Sides music={record} />
          <Related
            title="Licences"
            kind="licences"
            place="clearance/licences"
            match={(licence) => licence.music_id === record.id}
            name={(licence) =>
              `${text(licence, "licensor")}, ${wordFor(licenceSides, licence.side)}`
            }
            state={{ field: "status", words: licenceStates }}
            none="No licence yet."
            add={{ words: "Add a licence for this music", start: { music: record.id } }}
          />
        </>
      )}
    />
  );
}

const HELD = ["signed", "paid"];

/** Which of the two sides a signed licence stands for; what it allows where is the clearance page's matter. */
function Sides({ music: record }: { music: SavedRecord }) {
  const { data } = useRecords(useSeriesId(), "licences");
  if (!data) return null;
  const signed = data.filter(
    (licence) => licence.music_id === record.id && HELD.includes(String(licence.status)),
  );
  const has = (side: string) =>
    signed.some((licence) => licence.side === side || licence.side === "both");
  const free = record.composition_public_domain === true;
  return (
    <section>
      <h3>Sides</h3>
      <p>
        <Stated pattern={has("composition") ? "covered" : free ? "restricted" : "gap"}>
          {has("composition")
            ? "The composition has a signed licence."
            : free
              ? "The composition is taken to be in the public domain (estimate)."
              : "The composition has no signed licence."}
        </Stated>
      </p>
      <p>
        <Stated pattern={has("recording") ? "covered" : "gap"}>
          {has("recording")
            ? "The recording has a signed licence."
            : "The recording has no signed licence."}
        </Stated>
      </p>
    </section>
  );
}
