// Papers of an episode and the insurer's checklist.
import { queryOptions, useMutation, useQueryClient } from "@tanstack/react-query";
import { answered, api, onVersion, withQuery } from "./client";
import type { components } from "./schema.gen";

type Schemas = components["schemas"];

export type PrintedPaper = Schemas["PrintedPaper"];
export type PaperKind = "third_party" | "credits" | "checklist" | "chain_of_title";
export type ChecklistBody = Schemas["ChecklistBody"];
export type ChecklistPoint = Schemas["ChecklistPoint"];

export const paperPath = (
  series: string,
  episode: string,
  kind: PaperKind,
  form: string,
  query: { spec: string; cut: string },
) => withQuery(`/api/series/${series}/episodes/${episode}/papers/${kind}/${form}`, query);

export const paperQuery = (
  series: string,
  episode: string,
  kind: PaperKind,
  query: { spec: string; cut: string },
) =>
  queryOptions({
    queryKey: ["series", series, "paper", episode, kind, query.spec, query.cut] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/episodes/{episode}/papers/{kind}", {
          params: { path: { series, episode, kind }, query },
          signal,
        }),
      ),
  });

export const checklistQuery = (
  series: string,
  episode: string,
  query: { spec: string; cut: string },
) =>
  queryOptions({
    queryKey: ["series", series, "checklist", episode, query.spec, query.cut] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/episodes/{episode}/checklist", {
          params: { path: { series, episode }, query },
          signal,
        }),
      ),
  });

export function useChecklistAnswer(series: string, episode: string) {
  const client = useQueryClient();
  return useMutation({
    mutationFn: ({ item, version, body }: { item: string; version: number; body: ChecklistBody }) =>
      answered(
        api.PUT("/api/series/{series}/episodes/{episode}/checklist/{item}", {
          params: { path: { series, episode, item }, header: onVersion(version) },
          body,
        }),
      ),
    onSuccess: () => client.invalidateQueries({ queryKey: ["series", series] }),
  });
}
