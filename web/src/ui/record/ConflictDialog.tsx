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

export function ConflictDialog({
  fields,
  mine,
  conflict,
  lookup,
  onClose,
  onResolve,
}: {
  fields: readonly Field[];
  mine: Values;
  conflict: ConflictError;
  lookup: Lookup;
  onClose: () => void;
  onResolve: (merged: Values) => void;
}) {
  const theirs = flattened(fields, conflict.current);
  const rows = differing(fields, mine, theirs);
  const [choice, setChoice] = useState<Record<string, "mine" | "theirs">>({});
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
      <p>Nothing of yours was saved yet. Choose for each field which version is kept, then save.</p>
      <table className={styles.conflict}>
        <caption className="visually-hidden">The fields that differ</caption>
        <thead>
          <tr>
            <th scope="col">Field</th>
            <th scope="col">Yours</th>
            <th scope="col">Saved by {by}</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((field) => (
            <tr key={field.name}>
              <th scope="row">{field.label}</th>
              {(["mine", "theirs"] as const).map((side) => (
                <td key={side}>
                  <Radio
                    name={`keep-${field.name}`}
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
