// The cues of a sheet with what a person says of each. A change is saved at once and offers undo.
import { Button, Select } from "@mantine/core";
import { Link } from "@tanstack/react-router";
import { useState } from "react";
import {
  type CueBody,
  type CueLine,
  useCueSheetChanges,
  type WorkingSheet,
} from "../../api/cueSheets";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { NoteInput } from "../../ui/fields/NoteInput";
import { partyWords } from "../../ui/fields/PartiesField";
import { ErrorNote } from "../../ui/Notes";
import { Scroll } from "../../ui/Scroll";
import { useToasts } from "../../ui/Toasts";
import table from "../../ui/table.module.css";
import { wholeWords } from "../../words/amounts";
import { showLength } from "../../words/dates";
import { cueUsages, cueVocals, musicOrigins, wordFor } from "../../words/states";
import styles from "./cueSheet.module.css";

const choices = (words: readonly { value: string; word: string }[]) =>
  words.map(({ value, word }) => ({ value, label: word }));

const seen = [
  { value: "yes", label: "seen" },
  { value: "no", label: "not seen" },
];

export function CueRows({ working, episode }: { working: WorkingSheet; episode: string }) {
  const series = useSeriesId();
  const may = useMay("edit_assets");
  const { cue } = useCueSheetChanges(series, episode);
  const { lines } = working.sheet;
  if (lines.length === 0) {
    return (
      <p>
        No music was found in this cut. Music that nobody logged, and sources that are not known,
        are not on the sheet.
      </p>
    );
  }
  return (
    <section aria-label="Cues">
      <h2>Cues</h2>
      <ErrorNote error={cue.error} saving />
      {may && <ConfirmAll working={working} cue={cue} />}
      <Scroll label="Cues">
        <table className={`${table.table} ${table.blocks} ${styles.cues}`}>
          <caption className="visually-hidden">Cues in the order of the cut</caption>
          <thead>
            <tr>
              <th scope="col">No.</th>
              <th scope="col">Music</th>
              <th scope="col">In, out</th>
              <th scope="col">Length</th>
              <th scope="col">Usage</th>
              <th scope="col">Voice</th>
              <th scope="col">Performer</th>
            </tr>
          </thead>
          <tbody>
            {lines.map((line, at) => (
              <Row
                key={`${line.music_id} ${line.from_frame}`}
                line={line}
                note={working.entries[at]?.note ?? ""}
                version={working.entries[at]?.version ?? 0}
                cut={working.sheet.head.cut_id}
                may={may}
                cue={cue}
              />
            ))}
          </tbody>
        </table>
      </Scroll>
    </section>
  );
}

/** What is said of the cue was taken from an earlier cut, and nobody has looked at it since. */
const takenAlong = (line: CueLine) => line.taken !== null && line.taken !== "same";

const bodyOf = (line: CueLine, cut: string, said: Said): CueBody => ({
  cut_id: cut,
  music_id: line.music_id,
  record_in: line.from_frame,
  record_out: line.to_frame,
  ...said,
});

/** After a later cut most cues are as they were: looked through once, confirmed together. */
function ConfirmAll({ working, cue }: { working: WorkingSheet; cue: Cues }) {
  const toasts = useToasts();
  const [busy, setBusy] = useState(false);
  const open = working.sheet.lines.filter(takenAlong);
  if (open.length < 2) return null;
  const confirm = async () => {
    setBusy(true);
    try {
      for (const line of open) {
        const entry = working.entries[working.sheet.lines.indexOf(line)];
        const said = { ...line.details, note: entry?.note ?? "" };
        const body = bodyOf(line, working.sheet.head.cut_id, said);
        await cue.mutateAsync({ version: entry?.version ?? 0, body });
      }
      toasts.say(`${wholeWords(open.length)} cues were confirmed.`);
    } catch {
      // The fault stands above the cues; those before it are confirmed.
    } finally {
      setBusy(false);
    }
  };
  return (
    <p className="no-print">
      What is said of {wholeWords(open.length)} cues was taken from an earlier cut.{" "}
      <Button variant="default" size="compact-sm" loading={busy} onClick={confirm}>
        Confirm all {wholeWords(open.length)}
      </Button>
    </p>
  );
}

type Cues = ReturnType<typeof useCueSheetChanges>["cue"];
type Said = Pick<CueBody, "usage" | "vocals" | "performer_visible" | "note">;

function Row({
  line,
  note,
  version,
  cut,
  may,
  cue,
}: {
  line: CueLine;
  note: string;
  version: number;
  cut: string;
  may: boolean;
  cue: Cues;
}) {
  const series = useSeriesId();
  const toasts = useToasts();
  const said: Said = { ...line.details, note };
  const save = async (part: Partial<Said>) => {
    const body = bodyOf(line, cut, { ...said, ...part });
    const after = await cue.mutateAsync({ version, body });
    const at = after.sheet.lines.findIndex(
      (one) => one.music_id === line.music_id && one.from_frame === line.from_frame,
    );
    const now = after.entries[at]?.version;
    if (now === undefined) return;
    toasts.offerUndo(`Cue ${line.number} was saved.`, () =>
      cue.mutateAsync({ version: now, body: bodyOf(line, cut, said) }),
    );
  };
  // A fault stands above the cues.
  const say = (part: Partial<Said>) => save(part).catch(() => {});
  const name = `cue ${line.number}, ${line.title}`;
  return (
    <tr>
      <td>{line.number}</td>
      <th scope="row">
        <Link
          to="/s/$series/clearance/music"
          params={{ series }}
          search={{ record: line.music_id }}
        >
          {line.title}
        </Link>
        {line.in_scene && <span className="quiet"> heard in the scene</span>}
        <div className="quiet small">{parties(line)}</div>
        {line.open.map((point) => (
          <div key={point} className={styles.open}>
            {point}
          </div>
        ))}
        {line.doubts.map((point) => (
          <div key={point} className="quiet small">
            {point}
          </div>
        ))}
        {may && takenAlong(line) && (
          <Button
            className="no-print"
            variant="default"
            size="compact-sm"
            aria-label={`Confirm ${name}`}
            onClick={() => say({})}
          >
            Confirm
          </Button>
        )}
        {may && (
          <NoteInput
            className="no-print"
            size="xs"
            variant="unstyled"
            aria-label={`Note for the team on ${name}`}
            placeholder="Note for the team, not printed"
            note={note}
            save={(typed) => save({ note: typed })}
          />
        )}
      </th>
      <td className={styles.figures}>
        {line.starts}
        <br />
        {line.ends}
      </td>
      <td className={styles.figures}>
        {showLength(line.seconds)}
        {line.counted_frames < line.to_frame - line.from_frame && (
          <div className={`${styles.besides} quiet small`}>
            without what is heard under another cue
          </div>
        )}
      </td>
      <td>
        <Choice
          short="Usage"
          label={`Usage of ${name}`}
          data={choices(cueUsages)}
          value={line.details.usage}
          may={may}
          onChange={(usage) => say({ usage: usage as Said["usage"] })}
        />
      </td>
      <td>
        <Choice
          short="Voice"
          label={`Vocal or instrumental: ${name}`}
          data={choices(cueVocals)}
          value={line.details.vocals}
          may={may}
          onChange={(vocals) => say({ vocals: vocals as Said["vocals"] })}
        />
      </td>
      <td>
        <Choice
          short="Performer"
          label={`Performer of ${name}`}
          data={seen}
          value={
            line.details.performer_visible === null
              ? null
              : line.details.performer_visible
                ? "yes"
                : "no"
          }
          may={may}
          onChange={(value) => say({ performer_visible: value === null ? null : value === "yes" })}
        />
      </td>
    </tr>
  );
}

function parties(line: CueLine): string {
  const entered = line.parties.map((party) =>
    partyWords({ ...party, society: party.society ?? "", ipi: party.ipi ?? "" }),
  );
  const typed = [line.writers_text, line.publishers_text, line.performers_text];
  // of a traditional tune the parties may be the arranger alone; its source is named, too
  const composed = line.parties.some((party) =>
    ["composer", "author", "composer_author"].includes(party.role),
  );
  const source = line.parties.length > 0 && !composed ? [line.writers_text] : [];
  const rest = [
    wordFor(musicOrigins, line.origin),
    line.public_domain ? "composition public domain (estimate)" : "",
    line.label,
    line.catalogue_number,
    line.iswc,
    line.isrc,
  ];
  return [...source, ...(entered.length > 0 ? entered : typed), ...rest].filter(Boolean).join("; ");
}

function Choice({
  short,
  label,
  data,
  value,
  may,
  onChange,
}: {
  /** The head of the column, which is out of sight on a phone. */
  short: string;
  label: string;
  data: { value: string; label: string }[];
  value: string | null;
  may: boolean;
  onChange: (value: string | null) => void;
}) {
  const words = data.find((one) => one.value === value)?.label;
  const head = <span className={styles.short}>{short}</span>;
  if (!may) {
    return (
      <>
        {head} {words ?? <span className="quiet">not entered</span>}
      </>
    );
  }
  return (
    <>
      {head}
      <span className="print-only">{words ?? "not entered"}</span>
      <Select
        className="no-print"
        aria-label={label}
        size="xs"
        placeholder="not entered"
        data={data}
        value={value}
        clearable
        clearButtonProps={{ "aria-label": `Clear: ${label}` }}
        onChange={onChange}
      />
    </>
  );
}
