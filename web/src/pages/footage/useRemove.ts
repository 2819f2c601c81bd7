// What is said of a file (a log entry, a mark, a transcript) is removed at once, with undo.
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { del, post } from "../../api/client";
import { useSeriesId } from "../../app/series";
import { useToasts } from "../../ui/Toasts";

export function useRemove(kind: "log" | "shots" | "transcripts", said: string) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const refresh = () => queries.invalidateQueries({ queryKey: ["series", series] });
  const at = (id: string) => `/api/series/${series}/${kind}/${id}`;
  return useMutation({
    mutationFn: ({ id, version }: { id: string; version: number }) => del(at(id), version),
    onSuccess: async (_, { id }) => {
      await refresh();
      toasts.offerUndo(said, async () => {
        await post(`${at(id)}/restore`);
        await refresh();
      });
    },
    // it may be another version that stands there now
    onError: refresh,
  });
}
