// What was sent to the broadcaster: papers and cue sheets, byte for byte as they were issued, and nothing else. It needs
// no right to see the series, so that a delivery contact finds here what is meant for them.

import { Button } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { blocks } from "../../api/blocks";
import { answered, api } from "../../api/client";
import { issuedPath } from "../../api/cueSheets";
import type { components } from "../../api/schema.gen";
import { useMay } from "../../app/may";
import { useSeries, useSeriesId } from "../../app/series";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { Scroll } from "../../ui/Scroll";
import { useToasts } from "../../ui/Toasts";
import table from "../../ui/table.module.css";
import { showInstant } from "../../words/dates";
import { issuedKinds, wordFor } from "../../words/states";
import styles from "./report.module.css";

type IssuedList = components["schemas"]["IssuedList"];

export function Issued() {
  const series = useSeries();
  return (
    <Page
      title="Issued"
      place={series?.title}
      lead="Papers and cue sheets as they were sent; what is not here was not sent."
    >
      <List />
      <Caution>
        Not legal advice: what was sent says what was known on its day, for the cut that it names.
        Counsel and local law decide.
      </Caution>
    </Page>
  );
}

function List() {
  const series = useSeriesId();
  const query = useQuery({
    queryKey: ["series", series, "issued"] as const,
    queryFn: ({ signal }) =>
      answered(api.GET("/api/series/{series}/issued", { params: { path: { series } }, signal })),
  });
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="what was sent" />;
  const { papers, cue_sheets, episodes } = query.data;
  if (query.data.untied) {
    return (
      <EmptyState title="Nobody said yet for which broadcaster you receive.">
        Several broadcasters receive from this series. Ask the production to choose yours under
        Team, Members; what was issued to it then stands here.
      </EmptyState>
    );
  }
  if (papers.length === 0 && cue_sheets.length === 0) {
    return (
      <EmptyState title="Nothing was issued yet.">
        A paper is issued from Report or Papers, a cue sheet from Cue sheet; from then on it stands
        here as it was sent.
      </EmptyState>
    );
  }
  const episode = (id: string) => {
    const found = episodes.find((one) => one.id === id);
    return found ? `${found.number}. ${found.title}` : "an episode that was deleted";
  };
  return (
    <>
      {papers.length > 0 && <PaperRows papers={papers} episode={episode} />}
      {cue_sheets.length > 0 && <SheetRows sheets={cue_sheets} episode={episode} />}
    </>
  );
}

interface Named {
  episode: (id: string) => string;
}

function PaperRows({ papers, episode }: Named & { papers: IssuedList["papers"] }) {
  const series = useSeriesId();
  const may = useMay("edit_deliverables");
  const queries = useQueryClient();
  const toasts = useToasts();
  const take = useMutation({
    mutationFn: ({ id, taken_back }: { id: string; taken_back: boolean }) =>
      answered(
        api.PUT("/api/series/{series}/issued/{id}", {
          params: { path: { series, id } },
          body: { taken_back },
        }),
      ),
    onSuccess: () => queries.invalidateQueries({ queryKey: ["series", series, "issued"] }),
  });
  const takeBack = (id: string) =>
    take.mutate(
      { id, taken_back: true },
      {
        onSuccess: () =>
          toasts.offerUndo("It was taken back: the receiver no longer sees it.", () =>
            take.mutateAsync({ id, taken_back: false }),
          ),
      },
    );
  return (
    <section>
      <h2>Papers</h2>
      <ErrorNote error={take.error} saving />
      <Scroll label="Papers">
        <table className={`${table.table} ${table.blocks} ${styles.table}`}>
          <caption className="visually-hidden">Issued papers, the newest first</caption>
          <thead>
            <tr>
              <th scope="col">Issued</th>
              <th scope="col">Episode</th>
              <th scope="col">Paper</th>
              <th scope="col">Cut, measured against</th>
              <th scope="col">File</th>
            </tr>
          </thead>
          <tbody>
            {papers.map((paper) => (
              <tr key={paper.id}>
                <td>
                  {showInstant(paper.issued_at)}
                  <div className="quiet small">by {paper.issued_by_name}</div>
                </td>
                <td>{episode(paper.episode_id)}</td>
                <td>
                  {wordFor(issuedKinds, paper.kind)}
                  {paper.note && <div>{paper.note}</div>}
                </td>
                <td>
                  {paper.cut_name}
                  <div className="quiet small">{paper.specification}</div>
                </td>
                <td style={{ overflowWrap: "anywhere" }}>
                  <a href={`/api/series/${series}/issued/${paper.id}/file`} download>
                    {paper.file_name}
                  </a>
                  <div className="quiet small">SHA-256 {paper.sha256}</div>
                  {paper.taken_back_at ? (
                    <div>
                      Taken back by {paper.taken_back_by}, {showInstant(paper.taken_back_at)}.
                    </div>
                  ) : (
                    may && (
                      <Button
                        className="no-print"
                        variant="default"
                        size="compact-sm"
                        aria-label={`Take back ${paper.file_name}`}
                        onClick={() => takeBack(paper.id)}
                      >
                        Take back
                      </Button>
                    )
                  )}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </Scroll>
    </section>
  );
}

function SheetRows({ sheets, episode }: Named & { sheets: IssuedList["cue_sheets"] }) {
  const series = useSeriesId();
  const latest = (of: string) =>
    Math.max(...sheets.filter((one) => one.episode_id === of).map((one) => one.number));
  return (
    <section>
      <h2>Cue sheets</h2>
      <Scroll label="Cue sheets">
        <table className={`${table.table} ${table.blocks} ${styles.table}`}>
          <caption className="visually-hidden">Issued cue sheets, the newest first</caption>
          <thead>
            <tr>
              <th scope="col">Issued</th>
              <th scope="col">Episode</th>
              <th scope="col">Sheet</th>
              <th scope="col">Cut</th>
              <th scope="col">Files</th>
            </tr>
          </thead>
          <tbody>
            {sheets.map((sheet) => (
              <tr key={sheet.id}>
                <td>
                  {showInstant(sheet.issued_at)}
                  <div className="quiet small">by {sheet.issued_by_name}</div>
                </td>
                <td>{episode(sheet.episode_id)}</td>
                <td data-head="sheet">
                  {sheet.number}
                  {sheet.number < latest(sheet.episode_id) && (
                    <div>Replaced by sheet {latest(sheet.episode_id)}.</div>
                  )}
                </td>
                <td>{sheet.cut_name}</td>
                <td style={{ overflowWrap: "anywhere" }}>
                  <span className={styles.forms}>
                    {(["pdf", "xlsx", "csv"] as const).map((form) => (
                      <a
                        key={form}
                        href={issuedPath(series, sheet.id, form)}
                        download
                        aria-label={`Sheet ${sheet.number} of ${episode(sheet.episode_id)} as ${form.toUpperCase()}`}
                      >
                        {form.toUpperCase()}
                      </a>
                    ))}
                  </span>
                  <div className="quiet small">SHA-256 of the PDF {sheet.pdf_sha256}</div>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </Scroll>
    </section>
  );
}
