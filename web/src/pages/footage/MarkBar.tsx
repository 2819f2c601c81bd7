// Marks all the chosen files as shots: what kind, how good, what is seen. Selects are what has a rank.
import { Button, Select, TextInput } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api, onVersion } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import { useToasts } from "../../ui/Toasts";
import { counted } from "../../words/amounts";
import { ranks, shotKinds } from "./finding";
import styles from "./footage.module.css";

const data = (words: typeof ranks) => words.map(({ value, word }) => ({ value, label: word }));

export function MarkBar({ fileIds, onDone }: { fileIds: readonly string[]; onDone: () => void }) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const [kind, setKind] = useState<string | null>(null);
  const [rank, setRank] = useState<string | null>(null);
  const [words, setWords] = useState("");
  const [range, setRange] = useState({ from: "", to: "" });
  const one = fileIds.length === 1;
  const refresh = () => queries.invalidateQueries({ queryKey: ["series", series] });
  const mark = useMutation({
    mutationFn: () =>
      answered(
        api.POST("/api/series/{series}/shots", {
          params: { path: { series } },
          body: {
            file_ids: [...fileIds],
            kind: kind as components["schemas"]["ShotKind"] | null,
            rank: rank === null ? null : Number(rank),
            words,
            ...(one && range.from.trim() && { from: range.from.trim() }),
            ...(one && range.to.trim() && { to: range.to.trim() }),
          },
        }),
      ),
    onSuccess: async ({ items }) => {
      await refresh();
      onDone();
      toasts.offerUndo(`Marked ${counted(items.length, "file")}.`, async () => {
        for (const { id, version } of items) {
          await answered(
            api.DELETE("/api/series/{series}/shots/{id}", {
              params: { path: { series, id }, header: onVersion(version) },
            }),
          );
        }
        await refresh();
      });
    },
  });
  const empty = kind === null && rank === null && words.trim() === "";
  return (
    <form
      className={styles.bar}
      aria-label="Mark the chosen files"
      onSubmit={(event) => {
        event.preventDefault();
        mark.mutate();
      }}
    >
      <p className={styles.barHead}>
        <strong>{counted(fileIds.length, "file")} chosen.</strong>{" "}
        {one ? "It is" : "Each of them is"} …
      </p>
      <div className={styles.barFields}>
        <Select
          label="Kind of shot"
          data={data(shotKinds)}
          value={kind}
          clearable
          onChange={setKind}
        />
        <Select
          label="Rank among the selects"
          data={data(ranks)}
          value={rank}
          clearable
          onChange={setRank}
        />
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
          label="What is seen or said"
          value={words}
          onChange={(event) => setWords(event.currentTarget.value)}
        />
      </div>
      <ErrorNote error={mark.error} saving />
      <div className={styles.barActs}>
        <Button
          type="submit"
          loading={mark.isPending}
          disabled={empty}
          title={empty ? "Say a kind, a rank or what is seen first." : undefined}
        >
          Mark
        </Button>
        <Button variant="default" onClick={onDone}>
          Choose none
        </Button>
      </div>
    </form>
  );
}
