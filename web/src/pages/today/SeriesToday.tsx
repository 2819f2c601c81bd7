// Today in one series: what needs attention, how each episode stands, and the first steps of a new series.
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { clearanceCountsQuery, elementStates } from "../../api/clearance";
import { type BoardEpisode, boardQuery, homeQuery } from "../../api/today";
import { useMay } from "../../app/may";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { Stated, StateWord } from "../../ui/State";
import { showDeadline } from "../../words/dates";
import { episodeStates } from "../../words/states";
import { AttentionList } from "./AttentionList";
import { FirstSteps } from "./FirstSteps";
import styles from "./today.module.css";

export function SeriesToday() {
  const id = useSeriesId();
  const series = useSeries();
  const { episode } = usePageSearch();
  const home = useQuery(homeQuery);
  const seesSeries = useMay("view_series");
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
      {seesSeries ? (
        <>
          <FirstSteps />
          <Board />
        </>
      ) : (
        <p>
          What was sent stands under{" "}
          <Link to="/s/$series/delivery/issued" params={{ series: id }}>
            Issued
          </Link>
          .
        </p>
      )}
    </Page>
  );
}

function Board() {
  const id = useSeriesId();
  const may = useMay("view_clearance");
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
              <th scope="col">Newest cut</th>
              {may && <th scope="col">Clearance, worst first</th>}
              <th scope="col">Owed</th>
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
                  <NewestCut episode={episode} />
                </td>
                {may && (
                  <td>
                    {episode.newest_cut && (
                      <ClearanceCounts episode={episode.id} cut={episode.newest_cut.id} />
                    )}
                  </td>
                )}
                <td>
                  <Owed episode={episode} />
                </td>
                <td>
                  {episode.next_due && (
                    <Link
                      to="/s/$series/delivery/deliverables"
                      params={{ series: id }}
                      search={{ episode: episode.id, record: episode.next_due.id }}
                    >
                      {episode.next_due.item}, {showDeadline(episode.next_due.due_on)}
                    </Link>
                  )}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </section>
  );
}

/** The newest cut leads to what in it is not cleared. */
function NewestCut({ episode }: { episode: BoardEpisode }) {
  const series = useSeriesId();
  const cut = episode.newest_cut;
  if (!cut) return <span className="quiet">none yet</span>;
  return (
    <span className={styles.counts}>
      <Link
        to="/s/$series/clearance/elements"
        params={{ series }}
        search={{ episode: episode.id, cut: cut.id }}
      >
        {cut.name}
      </Link>
      {cut.locked && <span className="quiet">locked</span>}
      {cut.unknown_sources > 0 && (
        <Stated pattern="unknown">
          {cut.unknown_sources} unknown source{cut.unknown_sources === 1 ? "" : "s"}
        </Stated>
      )}
    </span>
  );
}

/** Elements of the newest cut by state; each count leads to the elements. No sum hides what is open. */
function ClearanceCounts({ episode, cut }: { episode: string; cut: string }) {
  const series = useSeriesId();
  const answer = useQuery(clearanceCountsQuery(series, episode));
  if (answer.isPending) return <span className="quiet">being worked out</span>;
  if (answer.error) return <span className="quiet">{answer.error.message}</span>;
  const { counts, specification } = answer.data;
  const there = elementStates.filter(({ value }) => counts[value] > 0);
  if (there.length === 0) return <span className="quiet">nothing to clear</span>;
  return (
    <span className={styles.counts}>
      {there.map(({ value, word, pattern }) => (
        <Stated key={value} pattern={pattern}>
          {counts[value]} {word}
        </Stated>
      ))}
      <Link
        className="quiet"
        to="/s/$series/clearance/elements"
        params={{ series }}
        search={{ episode, cut, spec: specification.id }}
      >
        for {specification.name}
      </Link>
    </span>
  );
}

function Owed({ episode }: { episode: BoardEpisode }) {
  if (episode.owed === null) return null;
  if (episode.owed === 0) return <span className="quiet">nothing</span>;
  return (
    <span className={styles.counts}>
      {episode.owed}
      {(episode.overdue ?? 0) > 0 && <Stated pattern="gap">{episode.overdue} overdue</Stated>}
    </span>
  );
}
