// The captions of a cut, each with whom it names and what is wrong with it; one at a time is changed in place.
import { Button, Checkbox, Select, Textarea, TextInput } from "@mantine/core";
import { useState } from "react";
import type { CaptionDraft, CaptionList, CaptionView } from "../../api/captions";
import { ErrorNote } from "../../ui/Notes";
import recordStyles from "../../ui/record/record.module.css";
import { Scroll } from "../../ui/Scroll";
import { Stated } from "../../ui/State";
import table from "../../ui/table.module.css";
import type { Pattern } from "../../words/states";
import reportStyles from "../delivery/report.module.css";
import styles from "./clearance.module.css";

type People = CaptionList["people"];

const UNKNOWN: readonly string[] = ["person_not_said", "not_confirmed", "two_of_that_name"];

/** What is against a promise or a spelling is a gap; what is only not known is unknown. */
const patternOf = (fault: string): Pattern => (UNKNOWN.includes(fault) ? "unknown" : "gap");

/** People by name; two of one name by how they are told apart. */
function choices(people: People) {
  return people.map((one) => {
    const twice = people.some((other) => other.name === one.name && other.id !== one.id);
    const how = one.recognised_by || "not written down how to tell apart";
    return { value: one.id, label: twice ? `${one.name} (${how})` : one.name };
  });
}

export function CaptionRows({
  list,
  may,
  busy,
  change,
  remove,
}: {
  list: CaptionList;
  may: boolean;
  /** A change is under way: the next would stand on what is no longer there. */
  busy: boolean;
  change: (at: number, next: CaptionDraft) => Promise<void>;
  remove: (at: number) => Promise<void>;
}) {
  const [editing, setEditing] = useState<number | null>(null);
  const names = new Map(list.people.map((one) => [one.id, one.name]));
  return (
    <Scroll label="Captions">
      <table className={`${table.table} ${table.blocks} ${reportStyles.table}`}>
        <caption className="visually-hidden">Captions in the order of the cut</caption>
        <thead>
          <tr>
            <th scope="col">In, out</th>
            <th scope="col">On screen</th>
            <th scope="col">Names</th>
            <th scope="col">To be put right</th>
            {may && <th scope="col" className="no-print" aria-label="Change" />}
          </tr>
        </thead>
        <tbody>
          {list.items.map((item, at) => (
            // biome-ignore lint/suspicious/noArrayIndexKey: captions have no identity but their place
            <tr key={at}>
              {editing === at ? (
                <td colSpan={5}>
                  <CaptionForm
                    people={list.people}
                    start={item}
                    onSave={async (next) => {
                      await change(at, next);
                      setEditing(null);
                    }}
                    onStop={() => setEditing(null)}
                  />
                </td>
              ) : (
                <>
                  <td className={styles.times}>
                    {item.from} <br />
                    {item.to}
                  </td>
                  <td style={{ whiteSpace: "pre-line" }}>{item.text}</td>
                  <td data-head="names">{named(item, names)}</td>
                  <td>
                    {item.findings.map((finding) => (
                      <div key={finding.sentence}>
                        <Stated pattern={patternOf(finding.fault)}>{finding.sentence}</Stated>
                      </div>
                    ))}
                  </td>
                  {may && (
                    <td className="no-print">
                      <Button
                        variant="default"
                        size="compact-sm"
                        aria-label={`Change the caption at ${item.from}`}
                        disabled={busy}
                        onClick={() => setEditing(at)}
                      >
                        Change
                      </Button>{" "}
                      <Button
                        variant="default"
                        size="compact-sm"
                        aria-label={`Take out the caption at ${item.from}`}
                        disabled={busy}
                        onClick={() => remove(at)}
                      >
                        Take out
                      </Button>
                    </td>
                  )}
                </>
              )}
            </tr>
          ))}
        </tbody>
      </table>
    </Scroll>
  );
}

function named(item: CaptionView, names: ReadonlyMap<string, string>): string {
  if (item.names_nobody) return "nobody";
  if (item.person_id === null) return "not said";
  return names.get(item.person_id) ?? "somebody who was deleted";
}

export function CaptionForm({
  people,
  start,
  onSave,
  onStop,
}: {
  people: People;
  start: CaptionDraft;
  onSave: (draft: CaptionDraft) => Promise<void>;
  onStop: () => void;
}) {
  const [draft, setDraft] = useState(start);
  const [error, setError] = useState<unknown>(null);
  const [saving, setSaving] = useState(false);
  const set = (part: Partial<CaptionDraft>) => setDraft((old) => ({ ...old, ...part }));
  return (
    <form
      className={recordStyles.form}
      onSubmit={async (event) => {
        event.preventDefault();
        setError(null);
        setSaving(true);
        try {
          await onSave(draft);
        } catch (cause) {
          setError(cause);
        }
        setSaving(false);
      }}
    >
      <TextInput
        label="In"
        required
        value={draft.from}
        onChange={(event) => set({ from: event.currentTarget.value })}
      />
      <TextInput
        label="Out"
        description="First frame after the caption."
        required
        value={draft.to}
        onChange={(event) => set({ to: event.currentTarget.value })}
      />
      <Textarea
        label="On screen"
        description="The name on the first line, a role on the next."
        required
        autosize
        minRows={2}
        maxLength={500}
        value={draft.text}
        onChange={(event) => set({ text: event.currentTarget.value })}
      />
      <Checkbox
        label="Names nobody: a place, a year, a translation"
        checked={draft.names_nobody ?? false}
        onChange={(event) =>
          set({
            names_nobody: event.currentTarget.checked,
            ...(event.currentTarget.checked && { person_id: null }),
          })
        }
      />
      {!draft.names_nobody && (
        <Select
          label="Whom it names"
          data={choices(people)}
          value={draft.person_id}
          searchable
          clearable
          clearButtonProps={{ "aria-label": "Clear whom it names" }}
          nothingFoundMessage="None of that name"
          limit={100}
          onChange={(person_id) => set({ person_id })}
        />
      )}
      <ErrorNote error={error} saving />
      <p>
        <Button type="submit" loading={saving}>
          Save the caption
        </Button>{" "}
        <Button variant="default" onClick={onStop}>
          Stop
        </Button>
      </p>
    </form>
  );
}
