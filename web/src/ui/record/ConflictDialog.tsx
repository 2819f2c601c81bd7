// Somebody saved the same record in the meantime: both versions, field by field, and a choice for each.
import { Button, Modal, Radio } from "@mantine/core";
import { useState } from "react";
import type { ConflictError } from "../../api/client";
import { showInstant } from "../../words/dates";
import { columnsOf, type Field, type Values } from "./description";
import type { Lookup } from "./lookup";
import { flattened } from "./nested";
import styles from "./record.module.css";
import { plain } from "./show";

/** A value whatever the order of its members, without those that say nothing: null, no text, an empty list. */
function bare(value: unknown): unknown {
  if (value === null || value === undefined || value === "") return null;
  if (Array.isArray(value)) return value.length > 0 ? value.map(bare) : null;
  if (typeof value !== "object") return value;
  const said = Object.entries(value)
    .map(([name, inner]) => [name, bare(inner)] as const)
    .filter(([, inner]) => inner !== null)
    .sort(([one], [other]) => (one < other ? -1 : 1));
  return said.length > 0 ? Object.fromEntries(said) : null;
}

const same = (a: unknown, b: unknown) => JSON.stringify(bare(a)) === JSON.stringify(bare(b));

/** The fields on which two versions differ. */
export function differing(fields: readonly Field[], mine: Values, theirs: Values): Field[] {
  return fields.filter((field) =>
    columnsOf(field).some((column) => !same(mine[column], theirs[column])),
  );
}

/** Where only one of the two changed a field since it was read, nothing is in question: that version. */
export function chosenAlready(
  rows: readonly Field[],
  before: Values,
  mine: Values,
  theirs: Values,
): Record<string, "mine" | "theirs"> {
  const made: Record<string, "mine" | "theirs"> = {};
  for (const field of rows) {
    if (differing([field], before, theirs).length === 0) made[field.name] = "mine";
    else if (differing([field], before, mine).length === 0) made[field.name] = "theirs";
  }
  return made;
}

export function ConflictDialog({
  fields,
  mine,
  before,
  conflict,
  lookup,
  onClose,
  onResolve,
}: {
  fields: readonly Field[];
  mine: Values;
  /** As it was when the form was opened. */
  before: Values;
  conflict: ConflictError;
  lookup: Lookup;
  onClose: () => void;
  onResolve: (merged: Values) => void;
}) {
  const theirs = flattened(fields, conflict.current);
  const rows = differing(fields, mine, theirs);
  const [choice, setChoice] = useState(() => chosenAlready(rows, before, mine, theirs));
  const by = conflict.changedBy ?? "Somebody";
  const when = conflict.changedAt ? ` on ${showInstant(conflict.changedAt)}` : "";
  const resolve = () => {
    const merged = { ...mine };
    for (const field of rows) {
      if (choice[field.name] === "mine") continue;
      for (const column of columnsOf(field)) merged[column] = theirs[column];
    }
    onResolve(merged);
  };
  const undecided = rows.filter((field) => !choice[field.name]).length;
  return (
    <Modal opened onClose={onClose} title={`${by} saved this record${when}`} size="xl">
      <p>
        {rows.length === 0
          ? "Nothing of yours was saved yet, and what you typed is what stands there now."
          : "Nothing of yours was saved yet. Choose for each field which version is kept, then save. Where only one of you changed a field, that is chosen already."}
      </p>
      <table className={styles.conflict}>
        <caption className="visually-hidden">The fields that differ</caption>
        <thead>
          <tr>
            <th scope="col">Field</th>
            <th scope="col" id="keep-mine">
              Yours
            </th>
            <th scope="col" id="keep-theirs">
              Saved by {by}
            </th>
          </tr>
        </thead>
        <tbody>
          {rows.map((field) => (
            <tr key={field.name}>
              <th scope="row" id={`keep-${field.name}`}>
                {field.label}
              </th>
              {(["mine", "theirs"] as const).map((side) => (
                <td key={side}>
                  <Radio
                    name={`keep-${field.name}`}
                    aria-describedby={`keep-${field.name} keep-${side}`}
                    checked={choice[field.name] === side}
                    onChange={() => setChoice((all) => ({ ...all, [field.name]: side }))}
                    label={
                      plain(field, side === "mine" ? mine : theirs, lookup) || "(nothing entered)"
                    }
                  />
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
      <div className={styles.buttons}>
        <Button onClick={resolve} disabled={undecided > 0}>
          {undecided > 0 ? `${undecided} still to choose` : "Save with these choices"}
        </Button>
        <Button variant="default" onClick={onClose}>
          Back to my form
        </Button>
      </div>
    </Modal>
  );
}
