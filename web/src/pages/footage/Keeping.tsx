// How well cards and episodes are kept, the worst first; and the names of cards, checked against each other.
import { Button } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { inSeries } from "../../app/areas";
import { useSeries, useSeriesId } from "../../app/series";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import recordStyles from "../../ui/record/record.module.css";
import { Stated } from "../../ui/State";
import { copiesWords, levelWords } from "./CardKeeping";
import styles from "./footage.module.css";

type Item = components["schemas"]["KeptItem"];

export function Keeping() {
  const series = useSeriesId();
  const here = useSeries();
  const { data, error, refetch } = useQuery({
    queryKey: ["series", series, "keeping"],
    queryFn: ({ signal }) =>
      answered(api.GET("/api/series/{series}/keeping", { params: { path: { series } }, signal })),
  });
  return (
    <Page
      title="Copies"
      place={here?.title}
      lead="Three copies, two media, one off site; and the level of preservation. A card is kept as well as the worst of its files."
    >
      {error && <ErrorNote error={error} retry={() => refetch()} />}
      {!error && !data && <Waiting what="how well everything is kept" />}
      {data && (
        <>
          <h2>Episodes, by what their newest cut uses</h2>
          {data.episodes.length === 0 && <p className="quiet">No episode has a cut yet.</p>}
          <Items items={data.episodes} to={inSeries(series, "cut/versions")} by="episode" />
          <h2>Cards</h2>
          {data.cards.length === 0 && (
            <EmptyState title="No cards yet.">
              Cards appear when a drive is scanned and its folders follow the series’ pattern.
            </EmptyState>
          )}
          <Items items={data.cards} to={inSeries(series, "footage/cards")} by="record" />
          <Caution>{data.not_asked}</Caution>
        </>
      )}
      <Names />
    </Page>
  );
}

function Items({ items, to, by }: { items: readonly Item[]; to: string; by: string }) {
  return (
    <ul className={styles.kept}>
      {items.map((item) => (
        <li key={item.id}>
          <Link to={to} search={{ [by]: item.id }}>
            {item.name}
          </Link>
          <Stated pattern={!item.kept ? "unknown" : item.kept.holds ? "covered" : "gap"}>
            {item.kept ? copiesWords(item.kept) : "nothing of it is in the catalogue"}
          </Stated>
          <span className="quiet">{item.kept && levelWords(item.kept)}</span>
        </li>
      ))}
    </ul>
  );
}

/** A text as a file to be kept. */
function download(name: string, text: string) {
  const url = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  URL.revokeObjectURL(url);
}

function Names() {
  const series = useSeriesId();
  const { data, error, refetch } = useQuery({
    queryKey: ["series", series, "roll-names"],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/roll-names", { params: { path: { series } }, signal }),
      ),
  });
  if (error) return <ErrorNote error={error} retry={() => refetch()} />;
  if (!data) return <Waiting what="the names of cards" />;
  const list = data.renamings.map((one) => `${one.old}\t${one.new}\n`).join("");
  return (
    <section aria-label="Names of cards">
      <h2>Names of cards</h2>
      {data.problems.length === 0 && (
        <p>
          <Stated pattern="covered">
            Nothing is wrong with the names of {data.cards} cards by {data.pattern}.
          </Stated>
        </p>
      )}
      <ul className={recordStyles.related}>
        {data.problems.map((problem) => (
          <li key={problem}>
            <Stated pattern="unknown">{problem}</Stated>
          </li>
        ))}
      </ul>
      {data.renamings.length > 0 && (
        <>
          <h3>Names of which only one correction is possible</h3>
          <p className="quiet">
            Nothing is renamed here. Rename the folders on every drive, then scan them again; hash
            lists on the drives keep the old names.
          </p>
          <ul className={recordStyles.related}>
            {data.renamings.map((one) => (
              <li key={one.old}>
                {one.old} → {one.new}
                <span className="quiet small">{one.why}</span>
              </li>
            ))}
          </ul>
          <div className={`${recordStyles.buttons} no-print`}>
            <Button variant="default" onClick={() => download("renamings.txt", list)}>
              Old and new names as a list
            </Button>
            <Button variant="default" onClick={() => download("rename-rolls.sh", data.script)}>
              As a shell script, to be read first
            </Button>
          </div>
        </>
      )}
    </section>
  );
}
