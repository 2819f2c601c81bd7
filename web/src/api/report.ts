// The clearance and asset report of an episode, in the shape of the server's domain::report.
import { queryOptions } from "@tanstack/react-query";
import type { ElementState } from "./clearance";
import { get } from "./client";

export interface ReportRow {
  number: number;
  key: string;
  kind: string;
  label: string;
  credited_as: string | null;
  credit_line: string | null;
  basis: string | null;
  papers: string[];
  first_use: string | null;
  uses: number;
  total_frames: number;
  state: ElementState;
  reasons: { rule: string; text: string }[];
  to_do: string[];
  needed_by: string | null;
  ends_on: string | null;
}

export interface ReportUse {
  row: number;
  event: string;
  track: string | null;
  record_in: string;
  record_out: string;
  frames: number;
  source_file: string | null;
  reel: string | null;
  source_in: string | null;
}

export interface ClearanceReport {
  header: {
    series: string;
    producer_entity: string;
    episode_number: string;
    episode_title: string;
    cut_name: string;
    cut_version: string | null;
    cut_date: string | null;
    frame_rate: { numerator: number; denominator: number; drop_frame: boolean };
    running_frames: number;
    locked: boolean;
    specification: {
      name: string;
      version: string | null;
      broadcaster: string;
      territories: { code: string; name: string }[];
      media: { code: string; name: string }[];
      first_day: string | null;
      last_day: string | null;
    };
    made_at: string;
    time_zone: string;
  };
  summary: {
    counts: { state: ElementState; elements: number; uses: number }[];
    blocked: boolean;
    blocked_because: string;
    window: { sentence: string };
  };
  rows: ReportRow[];
  uses: ReportUse[];
  calendar: { on: string; what: string; label: string; sentence: string }[];
  assumptions: string[];
  rules: { rule: string; says: string }[];
  cautions: string[];
  integrity: {
    cut_file: string;
    cut_file_sha256: string;
    imported_at: string | null;
    events: number;
    events_matched: number;
    program: string;
  };
}

export type ReportFormat = "json" | "pdf" | "xlsx" | "csv";

export const reportPath = (series: string, episode: string, format: ReportFormat): string =>
  `/api/series/${series}/episodes/${episode}/report.${format}`;

export const reportQuery = (series: string, episode: string, spec: string, cut: string) =>
  queryOptions({
    queryKey: ["series", series, "report", episode, spec, cut] as const,
    queryFn: ({ signal }) =>
      get<ClearanceReport>(reportPath(series, episode, "json"), { spec, cut }, signal),
  });
