// What is said in a file: transcripts brought in as WebVTT or SubRip, to be found by.
import { Button, FileButton } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { answered, api, call } from "../../api/client";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import recordStyles from "../../ui/record/record.module.css";
import { useToasts } from "../../ui/Toasts";
import { counted } from "../../words/amounts";
import { showInstant } from "../../words/dates";
import { useRemove } from "./useRemove";

export function Transcripts({ file }: { file: string }) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const may = useMay("log_footage");
  const list = useQuery({
    queryKey: ["series", series, "files", "transcripts", file],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/files/{id}/transcripts", {
          params: { path: { series, id: file } },
          signal,
        }),
      ),
  });
  const refresh = () => queries.invalidateQueries({ queryKey: ["series", series, "files"] });
  const bring = useMutation({
    mutationFn: async (chosen: File) => {
      await call("POST", `/api/series/${series}/files/${file}/transcripts`, {
        query: { name: chosen.name },
        raw: chosen,
      });
      return chosen.name;
    },
    onSuccess: async (name) => {
      await refresh();
      toasts.say(`${name} was brought in.`);
    },
  });
  const remove = useRemove("transcripts", "The transcript was removed.");
  const items = list.data?.items ?? [];
  return (
    <section>
      <h3>What is said</h3>
      {list.data && items.length === 0 && <p className="quiet">No transcript of it is here.</p>}
      <ul className={recordStyles.related}>
        {items.map((one) => (
          <li key={one.id}>
            <span style={{ flex: 1 }}>
              {one.name}
              <span className="quiet small">
                {" "}
                {counted(one.lines, "line")}; {one.brought_by_name}, {showInstant(one.created_at)}
              </span>
            </span>
            {may && (
              <Button
                variant="default"
                size="compact-sm"
                className="no-print"
                aria-label={`Remove the transcript ${one.name}`}
                loading={remove.isPending && remove.variables.id === one.id}
                onClick={() => remove.mutate(one)}
              >
                Remove
              </Button>
            )}
          </li>
        ))}
      </ul>
      <ErrorNote error={list.error} />
      <ErrorNote error={bring.error ?? remove.error} saving />
      {may && (
        <FileButton
          accept=".srt,.vtt,text/vtt"
          onChange={(chosen) => chosen && bring.mutate(chosen)}
        >
          {(props) => (
            <Button variant="default" className="no-print" loading={bring.isPending} {...props}>
              Bring in a transcript (WebVTT or SubRip)
            </Button>
          )}
        </FileButton>
      )}
    </section>
  );
}
