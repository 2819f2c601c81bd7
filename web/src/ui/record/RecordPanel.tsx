// An open record beside its list: read, edit in place, remove with undo.

import { Button } from "@mantine/core";
import { Link } from "@tanstack/react-router";
import { useCallback, useRef } from "react";
import { blocks } from "../../api/blocks";
import { useRecord, useRecordChanges } from "../../api/records";
import type { SavedRecord } from "../../api/types";
import { useKey } from "../../app/keys";
import { ErrorNote, Waiting } from "../Notes";
import { useTitle } from "../Page";
import { useToasts } from "../Toasts";
import type { Description } from "./description";
import { useFocusKept, useOpened } from "./focus";
import type { Lookup } from "./lookup";
import { flattened } from "./nested";
import { bodyOf, groupsOf, HeldForm } from "./RecordForm";
import styles from "./record.module.css";
import { changedWords, Shown } from "./show";

export interface PanelProps {
  description: Description;
  series: string;
  id: string;
  editing: boolean;
  may: boolean;
  lookup: Lookup;
  onEdit: (editing: boolean) => void;
  onClose: () => void;
  /** What a page adds below the fields: records that refer to this one, actions of its own. */
  below?: ((record: SavedRecord) => React.ReactNode) | undefined;
}

export function RecordPanel(props: PanelProps) {
  const { description, series, id, editing, may, lookup, onEdit, onClose, below } = props;
  const query = useRecord(series, description.kind, id);
  const changes = useRecordChanges(series, description.kind);
  const toasts = useToasts();
  const head = useRef<HTMLHeadingElement>(null);
  const record = query.data;
  const title = record ? description.title(record, lookup) : description.one;
  useTitle(title);
  useKey(
    "e",
    useCallback(() => may && onEdit(true), [may, onEdit]),
  );
  useKey("Escape", onClose);
  useFocusKept(editing, head);

  useOpened(record?.id, head);

  // Whatever became of the record meanwhile, a form that somebody types into stays; saving says it.
  if (blocks(query) && !(editing && record))
    return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!record) return <Waiting what={`the ${description.one}`} />;

  const remove = () => {
    toasts.forget(record.id);
    changes.remove.mutate(record, {
      onSuccess: () => {
        onClose();
        toasts.offerUndo(`“${title}” was removed.`, () => changes.restore.mutateAsync(record.id), {
          about: record.id,
        });
      },
    });
  };

  return (
    <>
      <div className={styles.panelHead}>
        <h2 ref={head} tabIndex={-1}>
          {title}
        </h2>
        <Button variant="default" size="compact-sm" onClick={onClose} className="no-print">
          Close
        </Button>
      </div>
      <ErrorNote error={changes.remove.error} saving />
      {editing ? (
        <HeldForm
          description={description}
          record={record}
          lookup={lookup}
          series={series}
          save={(body, version) => {
            toasts.forget(record.id);
            return changes.save.mutateAsync({
              id: record.id,
              body,
              ...(version !== undefined && { version }),
            });
          }}
          onSaved={(saved, before) => {
            onEdit(false);
            const { version } = saved as SavedRecord;
            const body = bodyOf(description.fields, before ?? record);
            toasts.offerUndo(
              "Saved.",
              () => changes.save.mutateAsync({ id: record.id, body, version }),
              { undone: "It is as it was before.", about: record.id },
            );
          }}
          onCancel={() => onEdit(false)}
        />
      ) : (
        <>
          <div className={`${styles.panelButtons} no-print`}>
            <MayButton may={may} onClick={() => onEdit(true)}>
              Edit
            </MayButton>
            <MayButton may={may} onClick={remove} busy={changes.remove.isPending}>
              Remove
            </MayButton>
            {!may && (
              <span className={`${styles.mayNot} quiet small`}>
                None of your roles in this series allows changes here.
              </span>
            )}
          </div>
          <Facts
            description={description}
            record={flattened(description.fields, record) as SavedRecord}
            lookup={lookup}
            series={series}
          />
          {below?.(record)}
          {description.caution}
          <p className="quiet small">
            {changedWords(record)}.{" "}
            <Link to="/s/$series/team/audit" params={{ series }} search={{ subject_id: record.id }}>
              Who changed what
            </Link>
          </p>
        </>
      )}
    </>
  );
}

/** A button that says why it can't be used, rather than one that is missing. */
export function MayButton({
  may,
  onClick,
  busy = false,
  children,
}: {
  may: boolean;
  onClick: () => void;
  busy?: boolean;
  children: React.ReactNode;
}) {
  return (
    <Button
      variant="default"
      size="compact-sm"
      onClick={onClick}
      loading={busy}
      disabled={!may}
      title={may ? undefined : "None of your roles in this series allows this."}
    >
      {children}
    </Button>
  );
}

function Facts({
  description,
  record,
  lookup,
  series,
}: {
  description: Description;
  record: SavedRecord;
  lookup: Lookup;
  series: string;
}) {
  const filled = description.fields.filter((field) => {
    if (field.when && !field.when(record)) return false;
    const value = record[field.name];
    const empty = value === null || value === undefined || value === "";
    return field.matters || !(empty || (Array.isArray(value) && value.length === 0));
  });
  return groupsOf(filled).map(([group, fields]) => (
    <section key={group || "first"}>
      {group && <h3>{group}</h3>}
      <dl className={styles.facts}>
        {fields.map((field) => (
          <div key={field.name}>
            <dt>{field.label}</dt>
            <dd>
              <Shown field={field} values={record} lookup={lookup} series={series} />
            </dd>
          </div>
        ))}
      </dl>
    </section>
  ));
}
