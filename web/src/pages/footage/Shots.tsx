// Shots and selects of one file: what somebody marked in it, to be changed and removed in place.
import { Button } from "@mantine/core";
import { useQueryClient } from "@tanstack/react-query";
import { useEffect, useRef, useState } from "react";
import { answered, api, ConflictError, onVersion } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import type { Field, Values } from "../../ui/record/description";
import { useLookup } from "../../ui/record/lookup";
import { RecordForm } from "../../ui/record/RecordForm";
import recordStyles from "../../ui/record/record.module.css";
import { useToasts } from "../../ui/Toasts";
import { markWords } from "./FindTable";
import { type FileItem, ranks, shotKinds } from "./finding";
import { useRemove } from "./useRemove";

type Shot = FileItem["shots"][number];

const fields: readonly Field[] = [
  { name: "kind", label: "Kind of shot", type: "select", words: shotKinds, clearable: true },
  { name: "rank", label: "Rank among the selects", type: "select", words: ranks, clearable: true },
  { name: "from", label: "From", type: "text", nullable: true, help: "Empty: all of it." },
  { name: "to", label: "To", type: "text", nullable: true },
  { name: "words", label: "What is seen or said", type: "longText" },
];

export function Shots({ shots }: { shots: readonly Shot[] }) {
  return (
    <section>
      <h3>Shots and selects</h3>
      {shots.length === 0 && <p className="quiet">Nobody marked a shot in it.</p>}
      <ul className={recordStyles.related}>
        {shots.map((shot) => (
          <Mark key={shot.id} shot={shot} />
        ))}
      </ul>
    </section>
  );
}

function Mark({ shot }: { shot: Shot }) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const may = useMay("log_footage");
  const [editing, setEditing] = useState(false);
  // The focus stays here when the words become a form, and the form words again.
  const place = useRef<HTMLLIElement>(null);
  const turned = useRef(false);
  useEffect(() => {
    if (!turned.current) return;
    const edit = place.current?.querySelector("button");
    (editing ? place.current : edit)?.focus();
  }, [editing]);
  const remove = useRemove("shots", "The mark was removed.");
  if (editing) {
    return (
      <li ref={place} tabIndex={-1}>
        <MarkForm
          shot={shot}
          onDone={async (saved) => {
            setEditing(false);
            if (saved) toasts.say("The mark was saved.");
            await queries.invalidateQueries({ queryKey: ["series", series] });
          }}
        />
      </li>
    );
  }
  const words = markWords(shot);
  return (
    <li ref={place}>
      <span style={{ flex: 1 }}>
        {words}
        <ErrorNote error={remove.error} saving />
      </span>
      {may && (
        <>
          <Button
            variant="default"
            size="compact-sm"
            className="no-print"
            aria-label={`Edit the mark ${words}`}
            onClick={() => {
              turned.current = true;
              setEditing(true);
            }}
          >
            Edit
          </Button>
          <Button
            variant="default"
            size="compact-sm"
            className="no-print"
            aria-label={`Remove the mark ${words}`}
            loading={remove.isPending}
            onClick={() => remove.mutate(shot)}
          >
            Remove
          </Button>
        </>
      )}
    </li>
  );
}

/** A choice of a form is text; a rank is a number. */
const asText = (shot: Record<string, unknown>): Values => ({
  ...shot,
  rank: shot.rank === null ? null : String(shot.rank),
});

function MarkForm({ shot, onDone }: { shot: Shot; onDone: (saved: boolean) => void }) {
  const series = useSeriesId();
  const lookup = useLookup(series, []);
  const save = async (values: Values, version = shot.version) => {
    try {
      return await answered(
        api.PUT("/api/series/{series}/shots/{id}", {
          params: { path: { series, id: shot.id }, header: onVersion(version) },
          body: {
            kind: values.kind as components["schemas"]["ShotKind"] | null,
            rank: values.rank === null ? null : Number(values.rank),
            words: String(values.words),
            from: values.from as string | null,
            to: values.to as string | null,
          },
        }),
      );
    } catch (cause) {
      if (cause instanceof ConflictError) Object.assign(cause.current, asText(cause.current));
      throw cause;
    }
  };
  return (
    <RecordForm
      description={{ fields, one: "mark" }}
      record={{ ...asText(shot), version: shot.version }}
      lookup={lookup}
      series={series}
      save={save}
      onSaved={() => onDone(true)}
      onCancel={() => onDone(false)}
    />
  );
}
