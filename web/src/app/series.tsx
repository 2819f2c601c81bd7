// The series and the episode that the address names, for every page below `/s/{series}`.
import { useParams, useSearch } from "@tanstack/react-router";
import { useRecords } from "../api/records";
import { useMe } from "../api/session";
import type { PageSearch } from "./search";

export function useSeriesId(): string {
  const { series } = useParams({ strict: false });
  if (!series) throw new Error("this page stands below a series");
  return series;
}

export function usePageSearch(): PageSearch {
  return useSearch({ strict: false });
}

/** The series of the address with its title and the reader's roles in it; null where they have no access. */
export function useSeries() {
  const id = useSeriesId();
  const me = useMe();
  return me.series.find((series) => series.id === id) ?? null;
}

export interface Episode {
  id: string;
  number: number;
  title: string;
  status: string;
  /** Running time that the broadcaster asks for. */
  slot_seconds: number | null;
}

export function useEpisodes(series: string, enabled = true) {
  const query = useRecords(series, "episodes", enabled);
  const episodes = ((query.data ?? []) as unknown as Episode[]).toSorted(
    (a, b) => a.number - b.number,
  );
  return { ...query, episodes };
}

/** The episode chosen above the areas, if one is. */
export function useEpisode(): Episode | null {
  const series = useSeriesId();
  const { episode } = usePageSearch();
  const { episodes } = useEpisodes(series);
  return episodes.find((one) => one.id === episode) ?? null;
}
