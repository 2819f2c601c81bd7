// Settings of the series, and its removal (which can be undone).
import { Button } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { useNavigate } from "@tanstack/react-router";
import { useState } from "react";
import { del, get, post, put } from "../../api/client";
import type { SavedRecord } from "../../api/types";
import { useMay } from "../../app/may";
import { useSeries, useSeriesId } from "../../app/series";
import { Ask } from "../../ui/Ask";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { nowhere } from "../../ui/record/lookup";
import { bodyOf, HeldForm } from "../../ui/record/RecordForm";
import { useToasts } from "../../ui/Toasts";
import { seriesFields } from "./seriesFields";

const description = { one: "series", fields: seriesFields };

export function Settings() {
  const id = useSeriesId();
  const series = useSeries();
  const queries = useQueryClient();
  const toasts = useToasts();
  const may = useMay("edit_series");
  const query = useQuery({
    queryKey: ["series", id, "settings"],
    queryFn: ({ signal }) => get<SavedRecord>(`/api/series/${id}`, undefined, signal),
  });
  // The form is made anew after each save from here, and only then.
  const [saves, setSaves] = useState(0);
  const refresh = async () => {
    await queries.invalidateQueries({ queryKey: ["me"] });
    await queries.invalidateQueries({ queryKey: ["series", id] });
  };
  return (
    <Page title="Series settings" place={series?.title}>
      <ErrorNote error={query.error} retry={() => query.refetch()} />
      {query.isPending && <Waiting what="the settings" />}
      {!may && <p className="quiet">None of your roles in this series allows changing these.</p>}
      {query.data && (
        <>
          <fieldset
            disabled={!may}
            style={{ border: 0, padding: 0, margin: 0 }}
            aria-label="Settings"
          >
            <HeldForm
              key={saves}
              description={description}
              record={query.data}
              lookup={nowhere}
              series={id}
              level={2}
              save={(body, version) => put(`/api/series/${id}`, body, version)}
              onSaved={async (saved, before) => {
                const { version } = saved as SavedRecord;
                const body = bodyOf(description.fields, before ?? query.data);
                await refresh();
                setSaves((count) => count + 1);
                const putBack = async () => {
                  await put(`/api/series/${id}`, body, version);
                  await refresh();
                  setSaves((count) => count + 1);
                };
                toasts.offerUndo("Saved.", putBack, {
                  undone: "It is as it was before.",
                  about: id,
                });
              }}
            />
          </fieldset>
          {may && <Removal record={query.data} />}
        </>
      )}
    </Page>
  );
}

function Removal({ record }: { record: SavedRecord }) {
  const navigate = useNavigate();
  const queries = useQueryClient();
  const toasts = useToasts();
  const [asking, setAsking] = useState(false);
  const remove = useMutation({
    mutationFn: () => del(`/api/series/${record.id}`, record.version),
    onSuccess: async () => {
      await navigate({ to: "/" });
      await queries.invalidateQueries({ queryKey: ["me"] });
      toasts.offerUndo(`“${record.title}” was removed.`, async () => {
        await post(`/api/series/${record.id}/restore`);
        await queries.invalidateQueries({ queryKey: ["me"] });
      });
    },
  });
  return (
    <section>
      <h2>Remove the series</h2>
      <p className="quiet">
        It goes from everybody's list, with all its records. It can be brought back.
      </p>
      <Button variant="default" onClick={() => setAsking(true)}>
        Remove this series
      </Button>
      {asking && (
        <Ask
          title={`Remove “${record.title}”?`}
          act="Remove it"
          leave="Keep it"
          run={() => remove.mutateAsync()}
          onClose={() => setAsking(false)}
        >
          It goes from the list of everybody who works on it. It can be brought back.
        </Ask>
      )}
    </section>
  );
}
