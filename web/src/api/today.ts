// What needs attention, and how each episode stands.
import { queryOptions } from "@tanstack/react-query";
import { answered, api, get } from "./client";
import type { components } from "./schema.gen";

export type Attention = components["schemas"]["Attention"];

export interface BoardEpisode {
  id: string;
  number: number;
  title: string;
  status: string;
  scenes: number;
  /** Null without a cut, or for who may not see cuts. */
  newest_cut: { id: string; name: string; locked: boolean; unknown_sources: number } | null;
  /** Null when nothing is owed by a date, or for who may not see deliverables. */
  next_due: { id: string; item: string; due_on: string } | null;
  /** Deliverables that are not sent, accepted or waived; those of them whose day is past. */
  owed: number | null;
  overdue: number | null;
}

export const homeQuery = queryOptions({
  queryKey: ["home"] as const,
  queryFn: ({ signal }) => answered(api.GET("/api/home", { signal })),
});

export const boardQuery = (series: string) =>
  queryOptions({
    queryKey: ["series", series, "board"] as const,
    queryFn: ({ signal }) =>
      get<{ episodes: BoardEpisode[] }>(`/api/series/${series}/board`, undefined, signal),
  });
