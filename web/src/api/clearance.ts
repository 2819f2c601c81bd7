// The clearance of a cut for a delivery, and the cuts that it can be asked of.
import { queryOptions } from "@tanstack/react-query";
import type { Pattern } from "../words/states";
import { answered, api } from "./client";
import type { components } from "./schema.gen";

type Schemas = components["schemas"];

export type ElementState = Schemas["State"];
export type Days = Schemas["Days"];
export type End = Schemas["End"];
export type ReasonAnswer = Schemas["Reason"];
export type CellGroup = Schemas["CellGroup"];
export type ElementAnswer = Schemas["ElementAnswer"];
export type Behind = Schemas["Behind"];
export type PaperHolds = Schemas["PaperHolds"];
export type ClearanceAnswer = Schemas["Clearance"];
export type Cut = Schemas["Cut"];
export type DayLine = Schemas["DayLine"];
export type ApprovalView = Schemas["ApprovalView"];
export type WhatIfAnswer = Schemas["WhatIfAnswer"];
export type WhatIfStep = Schemas["WhatIfStep"];
export type TriedChange = Schemas["TriedChange"];

/** Worst first, in the order of the server's `State`. */
export const elementStates: readonly { value: ElementState; word: string; pattern: Pattern }[] = [
  { value: "gap", word: "gap", pattern: "gap" },
  { value: "unknown_source", word: "unknown source", pattern: "unknown" },
  { value: "unknown", word: "unknown", pattern: "unknown" },
  { value: "not_logged", word: "not logged", pattern: "not_logged" },
  { value: "evidence_only", word: "evidence only", pattern: "restricted" },
  { value: "restricted", word: "restricted", pattern: "restricted" },
  { value: "ends_soon", word: "ends soon", pattern: "ends_soon" },
  { value: "covered", word: "covered", pattern: "covered" },
];

export const cutsQuery = (series: string, episode: string) =>
  queryOptions({
    queryKey: ["series", series, "cuts", episode] as const,
    queryFn: async ({ signal }) =>
      (
        await answered(
          api.GET("/api/series/{series}/episodes/{episode}/cuts", {
            params: { path: { series, episode } },
            signal,
          }),
        )
      ).items,
  });

/** How many elements of an episode's latest cut are in each state. */
export const clearanceCountsQuery = (series: string, episode: string) =>
  queryOptions({
    queryKey: ["series", series, "clearance-counts", episode] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/episodes/{episode}/clearance-counts", {
          params: { path: { series, episode } },
          signal,
        }),
      ),
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
      answered(
        api.GET("/api/series/{series}/episodes/{episode}/clearance", {
          params: { path: { series, episode }, query: { spec, ...(cut && { cut }) } },
          signal,
        }),
      ),
  });
