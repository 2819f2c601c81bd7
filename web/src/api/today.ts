// What needs attention, and how each episode stands.
import { queryOptions } from "@tanstack/react-query";
import { get } from "./client";

/** One thing that needs somebody, with the date until when. */
export interface Attention {
  series_id: string;
  series_title: string;
  subject_kind: string;
  subject_id: string;
  episode_id?: string | null;
  /** A sentence that names the thing and the fault. */
  words: string;
  due_on: string | null;
  state?: string | null;
}

export interface BoardEpisode {
  id: string;
  number: number;
  title: string;
  status: string;
  /** Number of elements by their worst state, in the newest cut; null where nothing was measured. */
  counts: Record<string, number> | null;
  next_due?: { item: string; due_on: string } | null;
}

export const homeQuery = queryOptions({
  queryKey: ["home"] as const,
  queryFn: ({ signal }) => get<{ items: Attention[] }>("/api/home", undefined, signal),
});

export const boardQuery = (series: string) =>
  queryOptions({
    queryKey: ["series", series, "board"] as const,
    queryFn: ({ signal }) =>
      get<{ episodes: BoardEpisode[] }>(`/api/series/${series}/board`, undefined, signal),
  });
