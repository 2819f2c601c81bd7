// Lists and single records of a series: reading, saving on a version, removing and bringing back.
import { queryOptions, useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { call, del, get, post, put } from "./client";
import type { Page, SavedRecord } from "./types";

export type Kind =
  | "episodes"
  | "scenes"
  | "shoot-days"
  | "places"
  | "people"
  | "releases"
  | "drives"
  | "cards"
  | "assets"
  | "music"
  | "licences"
  | "costs"
  | "budgets"
  | "specifications"
  | "deliverables"
  | "territory-groups"
  | "showings";

export const recordsPath = (series: string, kind: Kind) => `/api/series/${series}/${kind}`;

const PAGE = 500;
/** A list longer than this is cut short and says so above its rows; footage files have their own search. */
export const LIST_LIMIT = 50_000;

async function readAll(series: string, kind: Kind, signal: AbortSignal): Promise<SavedRecord[]> {
  const items: SavedRecord[] = [];
  let after: string | null = null;
  do {
    const page: Page<SavedRecord> = await get(
      recordsPath(series, kind),
      { limit: PAGE, after },
      signal,
    );
    items.push(...page.items);
    after = page.next;
  } while (after && items.length < LIST_LIMIT);
  return items;
}

export const recordsQuery = (series: string, kind: Kind) =>
  queryOptions({
    queryKey: ["series", series, kind] as const,
    queryFn: ({ signal }) => readAll(series, kind, signal),
  });

export function useRecords(series: string, kind: Kind, enabled = true) {
  return useQuery({ ...recordsQuery(series, kind), enabled });
}

export function useRecord(series: string, kind: Kind, id: string | undefined) {
  return useQuery({
    queryKey: ["series", series, kind, "one", id] as const,
    queryFn: ({ signal }) =>
      get<SavedRecord>(`${recordsPath(series, kind)}/${id}`, undefined, signal),
    enabled: id !== undefined,
  });
}

export interface Change {
  id?: string;
  version?: number;
  body: Record<string, unknown>;
}

/** One record's change touches counts, clearance and home as well, so all of the series is read anew. */
export function useRecordChanges(series: string, kind: Kind) {
  const client = useQueryClient();
  const refresh = async () => {
    await Promise.all([
      client.invalidateQueries({ queryKey: ["series", series] }),
      client.invalidateQueries({ queryKey: ["home"] }),
    ]);
  };
  const path = recordsPath(series, kind);
  const save = useMutation({
    mutationFn: ({ id, version, body }: Change) =>
      id === undefined
        ? post<SavedRecord>(path, body)
        : put<SavedRecord>(`${path}/${id}`, body, version),
    onSuccess: refresh,
  });
  const remove = useMutation({
    mutationFn: (record: { id: string; version: number }) =>
      del(`${path}/${record.id}`, record.version),
    onSuccess: refresh,
  });
  const restore = useMutation({
    mutationFn: (id: string) => call<SavedRecord>("POST", `${path}/${id}/restore`),
    onSuccess: refresh,
  });
  return { save, remove, restore };
}
