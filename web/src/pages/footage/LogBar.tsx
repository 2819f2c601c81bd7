// The quick entry: one statement about who or what is in all the chosen files.
import { Button, Checkbox, Select, TextInput } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api, onVersion } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import { useLookup } from "../../ui/record/lookup";
import { useToasts } from "../../ui/Toasts";
import { counted } from "../../words/amounts";
import { type Word, wordFor } from "../../words/states";
import styles from "./footage.module.css";

type LogKind = components["schemas"]["LogKind"];
type Presence = components["schemas"]["LogPresence"];
type Face = components["schemas"]["LogFace"];

export const logKinds: readonly Word[] = [
  { value: "person", word: "a person" },
  { value: "place", word: "a place" },
  { value: "asset", word: "an artwork, brand or other import" },
  { value: "music", word: "music heard" },
  { value: "nothing", word: "nothing to clear" },
];

export const presences: readonly Word[] = [
  { value: "on_camera", word: "on camera" },
  { value: "voice", word: "voice only" },
  { value: "background", word: "in the background" },
  { value: "in_shot", word: "in shot" },
  { value: "heard", word: "heard" },
  { value: "none", word: "not present" },
];

export const faces: readonly Word[] = [
  { value: "shown", word: "face shown" },
  { value: "hidden", word: "face hidden" },
  { value: "blurred", word: "face blurred" },
  { value: "not_applicable", word: "no face" },
];

const choices = (words: readonly Word[]) =>
  words.map(({ value, word }) => ({ value, label: word }));

const subjects = {
  person: { kind: "people", field: "person_id", label: "Who" },
  place: { kind: "places", field: "place_id", label: "Which place" },
  asset: { kind: "assets", field: "asset_id", label: "Which" },
  music: { kind: "music", field: "music_id", label: "Which music" },
} as const;

export function LogBar({ fileIds, onDone }: { fileIds: readonly string[]; onDone: () => void }) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const lookup = useLookup(series, ["people", "places", "assets", "music"]);
  const [kind, setKind] = useState<LogKind>("person");
  const [subject, setSubject] = useState<string | null>(null);
  const [presence, setPresence] = useState<Presence>("on_camera");
  const [face, setFace] = useState<Face>("shown");
  const [named, setNamed] = useState(false);
  const [changed, setChanged] = useState(false);
  const [note, setNote] = useState("");
  const [range, setRange] = useState({ from: "", to: "" });
  const about = kind === "nothing" ? null : subjects[kind];
  const one = fileIds.length === 1;
  const refresh = () => queries.invalidateQueries({ queryKey: ["series", series] });

  const log = useMutation({
    mutationFn: () =>
      answered(
        api.POST("/api/series/{series}/log", {
          params: { path: { series } },
          body: {
            file_ids: [...fileIds],
            kind,
            ...(about && { [about.field]: subject }),
            ...(kind === "person" && {
              presence,
              face,
              named_on_screen: named,
              voice_changed: changed,
            }),
            ...(one && range.from.trim() && { from: range.from.trim() }),
            ...(one && range.to.trim() && { to: range.to.trim() }),
            note,
          },
        }),
      ),
    onSuccess: async ({ items }) => {
      await refresh();
      onDone();
      const what = about ? lookup.name(about.kind, subject) : "nothing to clear";
      toasts.offerUndo(`Logged ${what} in ${counted(items.length, "file")}.`, async () => {
        for (const { id, version } of items) {
          await answered(
            api.DELETE("/api/series/{series}/log/{id}", {
              params: { path: { series, id }, header: onVersion(version) },
            }),
          );
        }
        await refresh();
      });
    },
  });

  return (
    <form
      className={styles.bar}
      aria-label="Log the chosen files"
      onSubmit={(event) => {
        event.preventDefault();
        log.mutate();
      }}
    >
      <p className={styles.barHead}>
        <strong>{counted(fileIds.length, "file")} chosen.</strong> In {one ? "it" : "each of them"}{" "}
        there is …
      </p>
      <div className={styles.barFields}>
        <Select
          label="What"
          data={choices(logKinds)}
          value={kind}
          allowDeselect={false}
          onChange={(next) => {
            setKind(next as LogKind);
            setSubject(null);
          }}
        />
        {about && (
          <Select
            label={about.label}
            data={lookup.choices(about.kind)}
            value={subject}
            searchable
            required
            nothingFoundMessage="None of that name yet"
            onChange={setSubject}
          />
        )}
        {kind === "person" && (
          <>
            <Select
              label="How"
              data={choices(presences.slice(0, 3))}
              value={presence}
              allowDeselect={false}
              onChange={(next) => {
                setPresence(next as Presence);
                setFace(next === "voice" ? "not_applicable" : "shown");
              }}
            />
            <Select
              label="Face"
              data={choices(faces)}
              value={face}
              allowDeselect={false}
              onChange={(next) => setFace(next as Face)}
            />
          </>
        )}
        {one && (
          <>
            <TextInput
              label="From"
              placeholder="all of it"
              value={range.from}
              onChange={(event) => setRange({ ...range, from: event.currentTarget.value })}
            />
            <TextInput
              label="To"
              placeholder="10:02:15:00"
              value={range.to}
              onChange={(event) => setRange({ ...range, to: event.currentTarget.value })}
            />
          </>
        )}
        <TextInput
          label="Note"
          value={note}
          onChange={(event) => setNote(event.currentTarget.value)}
        />
      </div>
      {kind === "person" && (
        <Checkbox
          label="The name stands on screen"
          checked={named}
          onChange={(event) => setNamed(event.currentTarget.checked)}
        />
      )}
      {kind === "person" && presence !== "background" && (
        <Checkbox
          label="The voice was changed"
          checked={changed}
          onChange={(event) => setChanged(event.currentTarget.checked)}
        />
      )}
      <ErrorNote error={log.error} saving />
      <div className={styles.barActs}>
        <Button
          type="submit"
          loading={log.isPending}
          disabled={about !== null && subject === null}
          title={about && !subject ? "Choose who or what first." : undefined}
        >
          Log
        </Button>
        <Button variant="default" onClick={onDone}>
          Choose none
        </Button>
      </div>
    </form>
  );
}

/** `on camera, face shown, named on screen`. */
export function mannerWords(entry: {
  presence: string;
  face: string;
  named_on_screen: boolean;
  voice_changed?: boolean | undefined;
}): string {
  return [
    entry.presence === "none" ? "" : wordFor(presences, entry.presence),
    entry.face === "not_applicable" ? "" : wordFor(faces, entry.face),
    entry.named_on_screen ? "named on screen" : "",
    entry.voice_changed ? "voice changed" : "",
  ]
    .filter(Boolean)
    .join(", ");
}
