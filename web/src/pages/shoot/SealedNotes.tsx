// Notes that only the people named in them may open. Heads are listed; each opening is written down.
import { Button, MultiSelect, Textarea, TextInput } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { Ask } from "../../ui/Ask";
import { ErrorNote } from "../../ui/Notes";
import { useMembers } from "../../ui/record/lookup";
import recordStyles from "../../ui/record/record.module.css";
import { showInstant } from "../../words/dates";

type Note = components["schemas"]["SealedNote"];

export function SealedNotes({ kind, subject }: { kind: "person" | "release"; subject: string }) {
  const series = useSeriesId();
  const sees = useMay("view_releases");
  const may = useMay("edit_releases");
  const [writing, setWriting] = useState(false);
  const query = useQuery({
    queryKey: ["series", series, "sealed-notes", subject] as const,
    queryFn: async ({ signal }) =>
      (
        await answered(
          api.GET("/api/series/{series}/sealed-notes", {
            params: { path: { series }, query: { subject } },
            signal,
          }),
        )
      ).items,
    enabled: sees,
  });
  if (!sees) return null;
  return (
    <section>
      <h3>Sealed notes</h3>
      <ErrorNote error={query.error} />
      {query.data?.length === 0 && <p className="quiet">None.</p>}
      <ul className={recordStyles.related}>
        {query.data?.map((note) => (
          <li key={note.id}>
            <OneNote note={note} />
          </li>
        ))}
      </ul>
      {writing ? (
        <Write kind={kind} subject={subject} onDone={() => setWriting(false)} />
      ) : (
        <p className="no-print">
          <Button
            variant="default"
            size="compact-sm"
            disabled={!may}
            title={may ? undefined : "None of your roles in this series allows this."}
            onClick={() => setWriting(true)}
          >
            Seal a note
          </Button>
        </p>
      )}
    </section>
  );
}

export function OneNote({ note }: { note: Note }) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const path = { series, id: note.id };
  const [asking, setAsking] = useState(false);
  const open = useMutation({
    mutationFn: () =>
      answered(api.POST("/api/series/{series}/sealed-notes/{id}/open", { params: { path } })),
  });
  const remove = useMutation({
    mutationFn: () =>
      answered(api.DELETE("/api/series/{series}/sealed-notes/{id}", { params: { path } })),
    onSuccess: () => queries.invalidateQueries({ queryKey: ["series", series, "sealed-notes"] }),
  });
  return (
    <div>
      <strong>{note.title}</strong>{" "}
      <span className="quiet">
        about a {note.subject_kind}, by {note.written_by}, {showInstant(note.written_at)}; for{" "}
        {note.readers.join(", ")}
      </span>
      {open.data ? (
        <>
          <p style={{ whiteSpace: "pre-wrap" }}>{open.data.text}</p>
          <Button variant="default" size="compact-sm" onClick={() => open.reset()}>
            Close it
          </Button>
        </>
      ) : (
        <div className="no-print">
          <Button
            variant="default"
            size="compact-sm"
            disabled={!note.may_open}
            loading={open.isPending}
            title={note.may_open ? "Opening is written down." : "You are not named in it."}
            onClick={() => open.mutate()}
          >
            Open
          </Button>{" "}
          {note.may_change && (
            <Button variant="default" size="compact-sm" onClick={() => setAsking(true)}>
              Take away
            </Button>
          )}
        </div>
      )}
      {asking && (
        <Ask
          title="Take this note away?"
          act="Take it away"
          leave="Keep it"
          run={() => remove.mutateAsync()}
          onClose={() => setAsking(false)}
        >
          Its text can't be brought back.
        </Ask>
      )}
      <ErrorNote error={open.error} />
    </div>
  );
}

function Write({
  kind,
  subject,
  onDone,
}: {
  kind: "person" | "release";
  subject: string;
  onDone: () => void;
}) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const members = useMembers(series);
  const [title, setTitle] = useState("");
  const [text, setText] = useState("");
  const [readers, setReaders] = useState<string[]>([]);
  const seal = useMutation({
    mutationFn: () =>
      answered(
        api.POST("/api/series/{series}/sealed-notes", {
          params: { path: { series } },
          body: { subject_kind: kind, subject_id: subject, title, text, readers },
        }),
      ),
    onSuccess: async () => {
      await queries.invalidateQueries({ queryKey: ["series", series, "sealed-notes"] });
      onDone();
    },
  });
  return (
    <form
      className={recordStyles.form}
      onSubmit={(event) => {
        event.preventDefault();
        seal.mutate();
      }}
    >
      <TextInput
        label="Title"
        description="All who see the record see it: say nothing in it that is sealed."
        maxLength={120}
        required
        value={title}
        onChange={(event) => setTitle(event.currentTarget.value)}
      />
      <Textarea
        label="Note"
        description="Only what is needed. An immediate concern for a child goes to the safeguarding lead, not into a note."
        autosize
        minRows={3}
        required
        value={text}
        onChange={(event) => setText(event.currentTarget.value)}
      />
      <MultiSelect
        label="May be opened by"
        description="And by you. Roles open nothing here, an administrator's neither."
        data={(members.data ?? []).map((one) => ({ value: one.user_id, label: one.name }))}
        value={readers}
        searchable
        onChange={setReaders}
      />
      <ErrorNote error={seal.error} saving />
      <p>
        <Button type="submit" loading={seal.isPending}>
          Seal it
        </Button>{" "}
        <Button variant="default" onClick={onDone}>
          Stop
        </Button>
      </p>
    </form>
  );
}
