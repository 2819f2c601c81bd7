// The cue sheet of an episode: what the cut gives now, what a person adds, and what was issued.
import { queryOptions, useMutation, useQueryClient } from "@tanstack/react-query";
import { answered, api, onVersion, withQuery } from "./client";
import type { components } from "./schema.gen";

type Schemas = components["schemas"];

export type WorkingSheet = Schemas["WorkingSheet"];
export type CueLine = Schemas["CueLine"];
export type CueSheetFields = Schemas["CueSheetFields"];
export type SheetAge = Schemas["SheetAge"];
export type IssuedSheet = Schemas["IssuedSheet"];
export type CueBody = Schemas["CueBody"];
export type FilingRule = Schemas["FilingRule"];

export const cueSheetQuery = (series: string, episode: string, cut: string | undefined) =>
  queryOptions({
    queryKey: ["series", series, "cue-sheet", episode, cut ?? null] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/episodes/{episode}/cue-sheet", {
          params: { path: { series, episode }, query: cut ? { cut } : {} },
          signal,
        }),
      ),
  });

export const issuedQuery = (series: string, episode: string) =>
  queryOptions({
    queryKey: ["series", series, "cue-sheets", episode] as const,
    queryFn: async ({ signal }) =>
      (
        await answered(
          api.GET("/api/series/{series}/episodes/{episode}/cue-sheets", {
            params: { path: { series, episode } },
            signal,
          }),
        )
      ).items,
  });

export const draftPath = (series: string, episode: string, cut: string, form: string) =>
  withQuery(`/api/series/${series}/episodes/${episode}/cue-sheet/draft/${form}`, { cut });

export const issuedPath = (series: string, id: string, form: string) =>
  `/api/series/${series}/cue-sheets/${id}/${form}`;

/** The four changes; each reads all of the series anew, because deliverables and reminders follow. */
export function useCueSheetChanges(series: string, episode: string) {
  const client = useQueryClient();
  const onSuccess = () => client.invalidateQueries({ queryKey: ["series", series] });
  const path = { series, episode };
  const cue = useMutation({
    mutationFn: ({ version, body }: { version: number; body: CueBody }) =>
      answered(
        api.PUT("/api/series/{series}/episodes/{episode}/cue-sheet/cue", {
          params: { path, header: onVersion(version) },
          body,
        }),
      ),
    onSuccess,
  });
  const settings = useMutation({
    mutationFn: ({ version, body }: { version: number; body: CueSheetFields }) =>
      answered(
        api.PUT("/api/series/{series}/episodes/{episode}/cue-sheet/settings", {
          params: { path, header: onVersion(version) },
          body,
        }),
      ),
    onSuccess,
  });
  const filing = useMutation({
    mutationFn: (rule: FilingRule) =>
      answered(
        api.POST("/api/series/{series}/episodes/{episode}/cue-sheet/filing", {
          params: { path },
          body: { rule },
        }),
      ),
    onSuccess,
  });
  const issue = useMutation({
    mutationFn: (body: { cut_id: string; with_open_points: boolean }) =>
      answered(
        api.POST("/api/series/{series}/episodes/{episode}/cue-sheets", { params: { path }, body }),
      ),
    onSuccess,
  });
  return { cue, settings, filing, issue };
}
