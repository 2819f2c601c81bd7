// For pages that are about one episode: asks which, where none is chosen above the areas.

import { Link } from "@tanstack/react-router";
import { blocks } from "../../api/blocks";
import { type Episode, useEpisode, useEpisodes, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import styles from "./cut.module.css";

export function EpisodeChoice({ children }: { children: (episode: Episode) => React.ReactNode }) {
  const series = useSeriesId();
  const episode = useEpisode();
  const query = useEpisodes(series);
  const { episodes, isPending } = query;
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (isPending) return <Waiting what="the episodes" />;
  if (episode) return children(episode);
  if (episodes.length === 0) {
    return (
      <EmptyState title="No episodes yet.">
        <Link to="/s/$series/team/episodes" params={{ series }} search={{ record: "new" }}>
          Add the first episode
        </Link>
      </EmptyState>
    );
  }
  return (
    <EmptyState title="Of which episode?">
      <ul className={styles.choices}>
        {episodes.map((one) => (
          <li key={one.id}>
            <Link to="." search={(search) => ({ ...search, episode: one.id })}>
              {one.number}. {one.title}
            </Link>
          </li>
        ))}
      </ul>
    </EmptyState>
  );
}
