// Lists that are brought in and taken out: the file, the preview, the import and its undo.
import { queryOptions } from "@tanstack/react-query";
import { saveAs } from "../words/csv";
import { ApiError, answered, api, problemToError, withQuery } from "./client";
import type { Kind } from "./records";
import type { components } from "./schema.gen";

type Schemas = components["schemas"];

export type SheetKind = Schemas["SheetKind"];
export type SheetAsk = Schemas["SheetAsk"];
export type SheetMapping = Schemas["SheetMapping"];
export type SheetPreview = Schemas["SheetPreview"];
export type SheetRow = Schemas["SheetRow"];
export type SheetField = Schemas["SheetField"];
export type SheetImport = Schemas["SheetImport"];
export type SheetUpload = Schemas["SheetUpload"];
export type RowAct = Schemas["RowAct"];
export type RowOutcome = Schemas["RowOutcome"];

/** The kinds of records that lists hold, with the kind of their pages. */
export const sheetKinds: Partial<Record<Kind, SheetKind>> = {
  people: "people",
  places: "places",
  "shoot-days": "shoot_days",
  releases: "releases",
  assets: "assets",
  music: "music",
  licences: "licences",
  drives: "drives",
  deliverables: "deliverables",
};

export const sheetsPath = (series: string) => `/api/series/${series}/sheets`;

export const uploadPath = (series: string, kind: SheetKind, name: string) =>
  withQuery(sheetsPath(series), { kind, name });

export const PAGE_ROWS = 50;

/** What a file would do; nothing is stored by asking. */
export const previewQuery = (
  series: string,
  id: string,
  ask: SheetAsk,
  outcome: RowOutcome | null,
  from: number,
) =>
  queryOptions({
    queryKey: ["sheet", series, id, ask, outcome, from] as const,
    queryFn: ({ signal }) =>
      answered(
        api.POST("/api/series/{series}/sheets/{id}/preview", {
          params: { path: { series, id } },
          body: { ask, show: { outcome, from, limit: PAGE_ROWS } },
          signal,
        }),
      ),
    placeholderData: (before) => before,
    retry: false,
  });

export const importSheet = (
  series: string,
  id: string,
  ask: SheetAsk,
  fingerprint: string,
  onlyGood: boolean,
) =>
  answered(
    api.POST("/api/series/{series}/sheets/{id}/import", {
      params: { path: { series, id } },
      body: { ask, fingerprint, only_good: onlyGood },
    }),
  );

export const undoImport = (series: string, id: string) =>
  answered(
    api.POST("/api/series/{series}/sheet-imports/{id}/undo", {
      params: { path: { series, id } },
    }),
  );

export const importsQuery = (series: string) =>
  queryOptions({
    queryKey: ["series", series, "sheet-imports"] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/sheet-imports", { params: { path: { series } }, signal }),
      ),
  });

export const mappingsQuery = (series: string, kind: SheetKind) =>
  queryOptions({
    queryKey: ["series", series, "sheet-mappings", kind] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/sheet-mappings", {
          params: { path: { series }, query: { kind } },
          signal,
        }),
      ),
  });

export const keepMapping = (series: string, kind: SheetKind, name: string, mapping: SheetMapping) =>
  answered(
    api.POST("/api/series/{series}/sheet-mappings", {
      params: { path: { series } },
      body: { kind, name, mapping },
    }),
  );

/** Asks for a file with a POST and hands it to the browser to keep. */
async function download(path: string, body: unknown, name: string): Promise<void> {
  let response: Response;
  try {
    response = await fetch(path, {
      method: "POST",
      credentials: "same-origin",
      headers: { "Content-Type": "application/json", "X-Waybill": "1" },
      body: JSON.stringify(body),
    });
  } catch {
    throw new ApiError(0, "unavailable", "The server can't be reached", "Try again.");
  }
  if (!response.ok) {
    throw problemToError(response.status, await response.json().catch(() => ({})));
  }
  const said = /filename="([^"]+)"/.exec(response.headers.get("Content-Disposition") ?? "")?.[1];
  saveAs(said ?? name, await response.blob());
}

export const downloadFaulty = (series: string, id: string, ask: SheetAsk) =>
  download(`${sheetsPath(series)}/${id}/faulty-rows`, ask, "rows-in-error.csv");

/** `ids`: the rows that the page shows, in its order; null: all. */
export const downloadList = (
  series: string,
  kind: SheetKind,
  form: "csv" | "xlsx",
  ids: readonly string[] | null,
) => download(`/api/series/${series}/sheet-exports`, { kind, form, ids }, `${kind}.${form}`);
