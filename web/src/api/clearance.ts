// The clearance of a cut for a delivery, and the cuts that it can be asked of.
import { queryOptions } from "@tanstack/react-query";
import type { Pattern } from "../words/states";
import { get } from "./client";
import { rowsOf } from "./rows";

export type ElementState =
  | "gap"
  | "unknown_source"
  | "unknown"
  | "not_logged"
  | "restricted"
  | "ends_soon"
  | "covered";

export interface Days {
  from: string;
  to: string;
}

export interface ReasonAnswer {
  code: string;
  rule: string;
  weight: "fails" | "unknown" | "shown";
  sentence: string;
  action: string;
  paper_id: string | null;
  events: number[];
}

export interface CellGroup {
  territories: string[];
  media: string[];
  place: string;
  media_words: string;
  state: "none" | "partial" | "unknown" | "covered";
  gaps: Days[];
  unknown: Days[];
}

export type End =
  | { kind: "not_cleared" }
  | { kind: "unknown" }
  | { kind: "on"; date: string }
  | { kind: "open" };

export interface ElementAnswer {
  id: string;
  kind: string;
  label: string;
  state: ElementState;
  first_use: { event: number; record_in: number } | null;
  uses: number;
  total_frames: number;
  cells: CellGroup[];
  reasons: ReasonAnswer[];
  assumptions: string[];
  provisional: boolean;
  end: End;
}

export interface ClearanceAnswer {
  blocked: boolean;
  counts: Record<ElementState, number>;
  elements: ElementAnswer[];
  window: { end: End; set_by: string[]; earliest_known: string | null; sentence: string };
  needed: Days;
  needed_by: string;
  assumptions: string[];
}

export interface Cut {
  id: string;
  version: number;
  episode_id: string;
  name: string;
  cut_date: string | null;
  cut_number: number | null;
  format: string;
  title: string;
  rate: string;
  start_frame: number;
  duration_frames: number;
  locked: boolean;
  source_name: string;
  warnings: { at: string; text: string }[];
  created_at: string;
  counts: {
    events: number;
    files: number;
    imports: number;
    music: number;
    black: number;
    unknown_sources: number;
  };
  /** The latest cut of its episode, which clearance looks at unless another is asked for. */
  current: boolean;
  /** Record timecode of the first frame, and of the first after the last. */
  start: string;
  end: string;
  imported_by_name: string | null;
}

/** Worst first, in the order of the server's `State`. */
export const elementStates: readonly { value: ElementState; word: string; pattern: Pattern }[] = [
  { value: "gap", word: "gap", pattern: "gap" },
  { value: "unknown_source", word: "unknown source", pattern: "unknown" },
  { value: "unknown", word: "unknown", pattern: "unknown" },
  { value: "not_logged", word: "not logged", pattern: "not_logged" },
  { value: "restricted", word: "restricted", pattern: "restricted" },
  { value: "ends_soon", word: "ends soon", pattern: "ends_soon" },
  { value: "covered", word: "covered", pattern: "covered" },
];

export const cutsQuery = (series: string, episode: string) =>
  queryOptions({
    queryKey: ["series", series, "cuts", episode] as const,
    queryFn: async ({ signal }) =>
      rowsOf<Cut>(await get(`/api/series/${series}/episodes/${episode}/cuts`, undefined, signal)),
  });

export const clearanceQuery = (
  series: string,
  episode: string,
  spec: string,
  cut: string | undefined,
) =>
  queryOptions({
    queryKey: ["series", series, "clearance", episode, spec, cut ?? null] as const,
    queryFn: ({ signal }) =>
      get<ClearanceAnswer>(
        `/api/series/${series}/episodes/${episode}/clearance`,
        { spec, cut },
        signal,
      ),
  });
