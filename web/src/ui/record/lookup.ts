// Names of the records that others refer to, read once per page.
import { queryOptions, useQueries, useQuery } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import { type Kind, recordsQuery } from "../../api/records";
import type { SavedRecord } from "../../api/types";
import { showDate } from "../../words/dates";
import { licenceSides, releaseKinds, wordFor } from "../../words/states";

export interface Choice {
  value: string;
  label: string;
}

export type Referable = Kind | "members";

export interface Lookup {
  /** The name of a record, or a word for its absence: never the bare id. */
  name(kind: Referable, id: unknown): string;
  choices(kind: Referable): Choice[];
  record(kind: Kind, id: unknown): SavedRecord | undefined;
}

/** How a record is called where another one refers to it. */
export function nameOf(kind: Referable, record: Record<string, unknown>): string {
  switch (kind) {
    case "people":
      return String(record.credited_name ?? "");
    case "places":
    case "cards":
    case "specifications":
    case "territory-groups":
    case "members":
      return String(record.name ?? "");
    case "drives":
      return String(record.label ?? "");
    case "episodes":
      return `${record.number}. ${record.title}`;
    case "shoot-days":
      return [showDate(String(record.day ?? "")), record.title].filter(Boolean).join(", ");
    case "showings":
      return [showDate(String(record.day ?? "")), record.at_time].filter(Boolean).join(", ");
    case "licences":
      return String(record.licensor ?? "");
    case "deliverables":
      return String(record.item ?? "");
    default:
      return String(record.title ?? record.id ?? "");
  }
}

export const membersKey = (series: string) => ["series", series, "members"] as const;

const team = (series: string) =>
  queryOptions({
    queryKey: membersKey(series),
    queryFn: ({ signal }) =>
      answered(api.GET("/api/series/{series}/members", { params: { path: { series } }, signal })),
  });

export function useMembers(series: string, enabled = true) {
  return useQuery({ ...team(series), select: (found) => found.items, enabled });
}

/** The broadcasters for whom a delivery contact of the series can receive. */
export function useBroadcasters(series: string) {
  return useQuery({ ...team(series), select: (found) => found.broadcasters });
}

/** Papers are told apart by what they are about, so that is read with them. */
const about: Partial<Record<Referable, readonly Kind[]>> = {
  licences: ["assets", "music"],
  releases: ["people", "places", "assets"],
};

/** Loads the kinds that are named and answers for them. */
export function useLookup(series: string, kinds: readonly Referable[]): Lookup {
  const all = new Set([...kinds, ...kinds.flatMap((kind) => about[kind] ?? [])]);
  const recordKinds = [...all].filter((kind): kind is Kind => kind !== "members");
  const lists = useQueries({
    queries: recordKinds.map((kind) => ({ ...recordsQuery(series, kind), retry: false })),
  });
  const members = useMembers(series, kinds.includes("members"));
  const rows = (kind: Referable): readonly Record<string, unknown>[] => {
    if (kind === "members") {
      return (members.data ?? []).map((member) => ({ ...member, id: member.user_id }));
    }
    return lists[recordKinds.indexOf(kind)]?.data ?? [];
  };
  const waiting = (kind: Referable) =>
    kind === "members" ? members.isPending : lists[recordKinds.indexOf(kind)]?.isPending;
  const name = (kind: Referable, id: unknown): string => {
    if (!id) return "";
    const row = rows(kind).find((one) => one.id === id);
    if (row) return called(kind, row);
    return waiting(kind) ? "…" : "removed or not yours to see";
  };
  const called = (kind: Referable, row: Record<string, unknown>): string => {
    if (kind === "licences") {
      const subject = name("assets", row.asset_id) || name("music", row.music_id);
      const side = row.side === "whole" ? "" : `, ${wordFor(licenceSides, row.side)}`;
      return `${nameOf(kind, row)}, for “${subject}”${side}`;
    }
    if (kind === "releases") {
      const subject =
        name("people", row.person_id) ||
        name("places", row.place_id) ||
        name("assets", row.asset_id);
      return `${subject}, ${wordFor(releaseKinds, row.kind)}`;
    }
    return nameOf(kind, row);
  };
  return {
    name,
    choices(kind) {
      return rows(kind)
        .map((row) => ({ value: String(row.id), label: called(kind, row) }))
        .toSorted((a, b) => a.label.localeCompare(b.label, "en-GB", { numeric: true }));
    },
    record(kind, id) {
      return rows(kind).find((one) => one.id === id) as SavedRecord | undefined;
    },
  };
}

/** For forms that refer to nothing. */
export const nowhere: Lookup = {
  name: () => "",
  choices: () => [],
  record: () => undefined,
};
