// Today in one series: what needs attention, how each episode stands, and the first steps of a new series.
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { type BoardEpisode, boardQuery, homeQuery } from "../../api/today";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { Stated, StateWord } from "../../ui/State";
import { showDeadline } from "../../words/dates";
import { episodeStates, type Pattern } from "../../words/states";
import { AttentionList } from "./AttentionList";
import { FirstSteps } from "./FirstSteps";
import styles from "./today.module.css";

export function SeriesToday() {
  const id = useSeriesId();
  const series = useSeries();
  const { episode } = usePageSearch();
  const home = useQuery(homeQuery);
  const items = (home.data?.items ?? []).filter(
    (item) =>
      item.series_id === id && (!episode || !item.episode_id || item.episode_id === episode),
  );
  return (
    <Page title="Today" place={series?.title} lead={`${series?.title}: soonest first.`}>
      <ErrorNote error={home.error} retry={() => home.refetch()} />
      {home.isPending && <Waiting what="what needs attention" />}
      {home.data && items.length === 0 && (
        <EmptyState title="Nothing needs attention here.">
          Deadlines, licence ends, drive checks and releases with a problem will stand here.
        </EmptyState>
      )}
      {items.length > 0 && <AttentionList items={items} showSeries={false} />}
      <FirstSteps />
      <Board />
    </Page>
  );
}

function Board() {
  const id = useSeriesId();
  const board = useQuery(boardQuery(id));
  if (board.error) return <ErrorNote error={board.error} retry={() => board.refetch()} />;
  if (!board.data || board.data.episodes.length === 0) return null;
  return (
    <section>
      <h2>Episodes</h2>
      <div className={styles.scroll}>
        <table className={styles.board}>
          <caption className="visually-hidden">How each episode stands</caption>
          <thead>
            <tr>
              <th scope="col">Episode</th>
              <th scope="col">State</th>
              <th scope="col">Elements in its newest cut</th>
              <th scope="col">Next due</th>
            </tr>
          </thead>
          <tbody>
            {board.data.episodes.map((episode) => (
              <tr key={episode.id}>
                <th scope="row">
                  <Link to="." search={{ episode: episode.id }}>
                    {episode.number}. {episode.title}
                  </Link>
                </th>
                <td>
                  <StateWord words={episodeStates} value={episode.status} />
                </td>
                <td>
                  <Counts episode={episode} />
                </td>
                <td>
                  {episode.next_due
                    ? `${episode.next_due.item}, ${showDeadline(episode.next_due.due_on)}`
                    : ""}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </section>
  );
}

const countWords: Record<string, [string, Pattern]> = {
  gap: ["with a gap", "gap"],
  unknown: ["unknown", "unknown"],
  not_logged: ["not logged", "not_logged"],
  restricted: ["restricted", "restricted"],
  ends_soon: ["ending soon", "ends_soon"],
  covered: ["covered", "covered"],
};

function Counts({ episode }: { episode: BoardEpisode }) {
  const counts = episode.counts;
  if (!counts) return <span className="quiet">no cut measured yet</span>;
  const shown = Object.entries(countWords).filter(([state]) => (counts[state] ?? 0) > 0);
  if (shown.length === 0) return <span className="quiet">no elements</span>;
  return (
    <span className={styles.counts}>
      {shown.map(([state, [word, pattern]]) => (
        <Stated key={state} pattern={pattern}>
          {counts[state]} {word}
        </Stated>
      ))}
    </span>
  );
}
