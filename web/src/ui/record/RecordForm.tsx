// The form of a record, made from its description. Errors stand at their field, and in a summary that takes
// the focus; a conflict shows both versions; what was typed is never thrown away by an answer.
import { Button } from "@mantine/core";
import { useBlocker } from "@tanstack/react-router";
import { useEffect, useMemo, useRef, useState } from "react";
import { ApiError, ConflictError } from "../../api/client";
import type { PageSearch } from "../../app/search";
import { Ask } from "../Ask";
import { ErrorNote } from "../Notes";
import { ConflictDialog } from "./ConflictDialog";
import { check, type Faults, faultsFromServer } from "./check";
import { type Description, type Field, startValues, type Values } from "./description";
import { FieldInput } from "./FieldInput";
import type { Lookup } from "./lookup";
import { nestedBody } from "./nested";
import styles from "./record.module.css";

export interface RecordFormProps {
  description: Pick<Description, "fields" | "one">;
  /** The record as read; null for a new one. */
  record: (Values & { version?: number }) | null;
  /** Values that a new record starts with. */
  start?: Values;
  lookup: Lookup;
  series: string;
  save: (body: Values, version: number | undefined) => Promise<unknown>;
  /** Also told what stood there before, whoever had saved that; null for a new record. */
  onSaved: (saved: unknown, before: Values | null) => void;
  onCancel?: () => void;
  saveWords?: string;
  /** Level of the headings of groups: 3 in a panel, 2 where the form is the page. */
  level?: 2 | 3;
}

export function RecordForm(props: RecordFormProps) {
  const { description, record, start, lookup, series, onCancel } = props;
  const { fields } = description;
  const Heading = props.level === 2 ? "h2" : "h3";
  const initial = useMemo(
    () => startValues(fields, record ?? start ?? null),
    [fields, record, start],
  );
  const form = useForm(props, initial);
  const summary = useRef<HTMLDivElement>(null);
  const shown = fields.filter((field) => !field.when || field.when(form.values));

  useEffect(() => {
    if (form.attempts > 0) summary.current?.focus();
  }, [form.attempts]);
  const leaving = useBlocker({
    // A filter typed beside the form is no way out of it.
    shouldBlockFn: ({ current, next }) => leaves(current, next) && form.isDirty(),
    enableBeforeUnload: form.isDirty,
    withResolver: true,
  });

  return (
    <>
      <form
        className={styles.form}
        noValidate
        onSubmit={(event) => {
          event.preventDefault();
          form.submit();
        }}
        onKeyDown={(event) => {
          if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) form.submit();
        }}
      >
        <div ref={summary} tabIndex={-1} className={styles.summary}>
          <FaultSummary faults={form.faults} fields={fields} />
          <ErrorNote error={form.error} saving />
        </div>
        {groupsOf(shown).map(([group, members]) => (
          <div key={group || "first"} className={styles.fields}>
            {group && <Heading>{group}</Heading>}
            {members.map((field) => (
              <FieldInput
                key={field.name}
                field={field}
                values={form.values}
                set={form.set}
                error={form.faults[field.name]}
                lookup={lookup}
                series={series}
              />
            ))}
          </div>
        ))}
        <div className={styles.buttons}>
          <Button type="submit" loading={form.busy}>
            {props.saveWords ?? "Save"}
          </Button>
          {onCancel && (
            <Button variant="default" onClick={onCancel}>
              Stop editing
            </Button>
          )}
        </div>
        {form.conflict && (
          <ConflictDialog
            fields={fields}
            mine={form.values}
            before={initial}
            conflict={form.conflict}
            lookup={lookup}
            onClose={form.dropConflict}
            onResolve={form.resolve}
          />
        )}
      </form>
      {leaving.status === "blocked" && (
        <Ask
          title="Leave without saving?"
          act="Leave it behind"
          leave="Back to my form"
          run={async () => leaving.proceed()}
          onClose={leaving.reset}
        >
          What you typed here is not saved.
        </Ask>
      )}
    </>
  );
}

/** The form stays with the version that it was opened on: a newer one would take away what was typed meanwhile. */
export function HeldForm({ record, ...rest }: RecordFormProps) {
  const [opened] = useState(record);
  return <RecordForm {...rest} record={opened} />;
}

interface Step {
  pathname: string;
  search: unknown;
}

function leaves(current: Step, next: Step): boolean {
  const a = current.search as PageSearch;
  const b = next.search as PageSearch;
  return current.pathname !== next.pathname || a.record !== b.record || a.edit !== b.edit;
}

function useForm({ description, record, save, onSaved }: RecordFormProps, initial: Values) {
  const { fields } = description;
  const [values, setValues] = useState(initial);
  const [faults, setFaults] = useState<Faults>({});
  const [error, setError] = useState<unknown>(null);
  const [conflict, setConflict] = useState<ConflictError | null>(null);
  const [busy, setBusy] = useState(false);
  const [attempts, setAttempts] = useState(0);
  // A ref, because going on after saving must not wait for the next render.
  const saved = useRef(false);

  const send = async (body: Values, version: number | undefined, before: Values | null) => {
    setBusy(true);
    setError(null);
    try {
      const answer = await save(body, version);
      saved.current = true;
      onSaved(answer, before);
    } catch (cause) {
      if (cause instanceof ConflictError) setConflict(cause);
      else {
        const found = cause instanceof ApiError ? faultsFromServer(fields, cause.fields) : {};
        setFaults(found);
        // What the summary says of each field is not said again above it.
        const told = Object.values(found);
        const all =
          cause instanceof ApiError &&
          told.length > 0 &&
          cause.fields.every(({ detail }) => told.includes(detail));
        setError(all ? null : cause);
        setAttempts((count) => count + 1);
      }
    } finally {
      setBusy(false);
    }
  };
  return {
    values,
    faults,
    error,
    conflict,
    busy,
    attempts,
    isDirty: () => !saved.current && JSON.stringify(values) !== JSON.stringify(initial),
    set: (changes: Values) => setValues((all) => ({ ...all, ...changes })),
    submit: () => {
      const found = check(fields, values);
      setFaults(found);
      setError(null);
      if (Object.keys(found).length > 0) {
        setAttempts((count) => count + 1);
        return;
      }
      void send(cleaned(fields, values, record), record?.version, record);
    },
    dropConflict: () => setConflict(null),
    resolve: (merged: Values) => {
      const version = Number(conflict?.current.version);
      setConflict(null);
      setValues(merged);
      const before = conflict?.current ?? record;
      void send(cleaned(fields, merged, before), version, before);
    },
  };
}

/** What was sent, or would have been, for a record as it stands: what puts it back. */
export const bodyOf = (fields: readonly Field[], record: Values): Values =>
  cleaned(fields, startValues(fields, record), record);

/** Fields that don't apply are sent as empty, so that a hidden value doesn't linger. */
function cleaned(fields: readonly Field[], values: Values, record: Values | null): Values {
  const blank = startValues(fields, null);
  const body = { ...values };
  for (const field of fields) {
    if (field.when && !field.when(values)) body[field.name] = blank[field.name];
    if (typeof body[field.name] === "string") body[field.name] = String(body[field.name]).trim();
    if (field.type === "text" && field.nullable && body[field.name] === "") body[field.name] = null;
  }
  return nestedBody(body, record);
}

function FaultSummary({ faults, fields }: { faults: Faults; fields: readonly Field[] }) {
  const found = fields.filter((field) => faults[field.name]);
  if (found.length === 0) return null;
  return (
    <div role="alert" className={styles.faults}>
      <p>Nothing was saved yet. {found.length === 1 ? "One thing" : "Some things"} to put right:</p>
      <ul>
        {found.map((field) => (
          <li key={field.name}>
            {field.label}: {faults[field.name]}
          </li>
        ))}
      </ul>
    </div>
  );
}

export function groupsOf(fields: readonly Field[]): [group: string, fields: Field[]][] {
  const groups = new Map<string, Field[]>();
  for (const field of fields) {
    const group = field.group ?? "";
    groups.set(group, [...(groups.get(group) ?? []), field]);
  }
  return [...groups];
}
