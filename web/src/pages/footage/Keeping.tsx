// How well cards and episodes are kept, the worst first; and the names of cards, checked against each other.
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { inSeries } from "../../app/areas";
import { useSeries, useSeriesId } from "../../app/series";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { Stated } from "../../ui/State";
import { copiesWords, levelWords } from "./CardKeeping";
import styles from "./footage.module.css";
import { NamesHint, RollNames } from "./RollNames";

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
      <NamesHint />
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
      <RollNames />
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
