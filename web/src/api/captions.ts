// Captions of a cut: one list, replaced as a whole on the version that it was read at.
import { queryOptions, useMutation, useQueryClient } from "@tanstack/react-query";
import { answered, api, onVersion } from "./client";
import type { components } from "./schema.gen";

type Schemas = components["schemas"];

export type CaptionList = Schemas["CaptionList"];
export type CaptionView = Schemas["CaptionView"];
export type CaptionDraft = Schemas["CaptionDraft"];

export const captionsQuery = (series: string, cut: string) =>
  queryOptions({
    queryKey: ["series", series, "captions", cut] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/cuts/{cut}/captions", {
          params: { path: { series, cut } },
          signal,
        }),
      ),
  });

/** What is sent of a caption: without its findings. */
export const draftOf = ({ from, to, text, person_id, names_nobody }: CaptionDraft) => ({
  from,
  to,
  text,
  person_id,
  names_nobody: names_nobody ?? false,
});

export function useCaptionChanges(series: string, cut: string) {
  const client = useQueryClient();
  const replace = useMutation({
    mutationFn: ({ items, version }: { items: readonly CaptionDraft[]; version: number }) =>
      answered(
        api.PUT("/api/series/{series}/cuts/{cut}/captions", {
          params: { path: { series, cut }, header: onVersion(version) },
          body: { items: items.map(draftOf) },
        }),
      ),
    onSuccess: () => client.invalidateQueries({ queryKey: ["series", series] }),
  });
  const read = useMutation({
    mutationFn: async (text: string) =>
      (
        await answered(
          api.POST("/api/series/{series}/cuts/{cut}/captions/read", {
            params: { path: { series, cut } },
            body: { text },
          }),
        )
      ).items,
  });
  return { replace, read };
}
