// What is said in a file: transcripts brought in as WebVTT or SubRip, to be found by.
import { Button, FileButton } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { answered, api, call } from "../../api/client";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import recordStyles from "../../ui/record/record.module.css";
import { useToasts } from "../../ui/Toasts";
import { showInstant } from "../../words/dates";

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
  const remove = useMutation({
    mutationFn: (id: string) =>
      answered(
        api.DELETE("/api/series/{series}/transcripts/{id}", { params: { path: { series, id } } }),
      ),
    onSuccess: refresh,
  });
  const items = list.data?.items ?? [];
  return (
    <section>
      <h3>What is said</h3>
      {list.data && items.length === 0 && <p className="quiet">No transcript of it is here.</p>}
      <ul className={recordStyles.related}>
        {items.map(({ id, name, lines, brought_by_name, created_at }) => (
          <li key={id}>
            <span style={{ flex: 1 }}>
              {name}
              <span className="quiet small">
                {" "}
                {lines} lines; {brought_by_name}, {showInstant(created_at)}
              </span>
            </span>
            {may && (
              <Button
                variant="default"
                size="compact-sm"
                className="no-print"
                aria-label={`Remove the transcript ${name}`}
                onClick={() => {
                  if (
                    window.confirm(`Remove ${name}? It has to be brought in again to undo that.`)
                  ) {
                    remove.mutate(id);
                  }
                }}
              >
                Remove
              </Button>
            )}
          </li>
        ))}
      </ul>
      <ErrorNote error={list.error ?? remove.error} />
      <ErrorNote error={bring.error} saving />
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
