// Grants as the domain's types write them (rights/term.rs, rights/coverage.rs), and in a sentence.
import { showDate } from "../../words/dates";
import { mediumWord } from "../../words/media";
import { territoriesWords } from "../../words/places";

export type Trigger = "signature" | "first_transmission" | "delivery" | "first_use";
export type Term = { to: string } | { months: number } | "perpetuity" | null;
export type Counting = "including" | "after" | null;

export interface Grant {
  territories: string[];
  territories_except: string[];
  media: string[];
  media_except: string[];
  /** A date, or the event whose date starts the term. */
  starts: string;
  term: Term;
  counting: Counting;
  /** A day beyond which it never runs, whatever its start. */
  long_stop?: string | null;
  limits?: Limits;
  /** Rights to extend it, in their order. */
  options?: RenewalOption[];
}

export type RunCounting = "each" | "seven_days_by_the_hour" | "seven_calendar_days";

export interface Limits {
  runs: { allowed: number; counting: RunCounting } | null;
  episodes: number[];
  versions: string[];
}

export interface RenewalOption {
  months: number;
  notice_days: number;
  price: string;
  taken_up_on: string | null;
}

export const noLimits: Limits = { runs: null, episodes: [], versions: [] };

export const runCountings: readonly { value: RunCounting; label: string }[] = [
  { value: "each", label: "every showing" },
  { value: "seven_days_by_the_hour", label: "once for all within 7 × 24 hours" },
  { value: "seven_calendar_days", label: "once for all within 7 calendar days" },
];

/** `2 runs; episodes 1, 2; “broadcast” only; option of 24 months`. */
export function limitWords(grant: Grant): string {
  const { runs, episodes, versions } = grant.limits ?? noLimits;
  const options = (grant.options ?? []).map(
    (option) =>
      `option of ${option.months} months${option.taken_up_on ? `, taken up on ${showDate(option.taken_up_on)}` : ""}`,
  );
  return [
    runs ? `${runs.allowed} ${runs.allowed === 1 ? "run" : "runs"}` : "",
    episodes.length ? `episodes ${episodes.join(", ")} only` : "",
    versions.length ? `${versions.map((name) => `“${name}”`).join(", ")} only` : "",
    ...options,
  ]
    .filter(Boolean)
    .join("; ");
}

export const triggers: readonly { value: Trigger; word: string }[] = [
  { value: "signature", word: "signature" },
  { value: "first_transmission", word: "first transmission" },
  { value: "delivery", word: "delivery" },
  { value: "first_use", word: "first use" },
];

export const newGrant = (): Grant => ({
  territories: [],
  territories_except: [],
  media: [],
  media_except: [],
  starts: "signature",
  term: null,
  counting: null,
  long_stop: null,
  limits: noLimits,
  options: [],
});

export const isTrigger = (starts: string): starts is Trigger =>
  triggers.some((trigger) => trigger.value === starts);

export function termKind(term: Term): "to" | "months" | "perpetuity" | "unknown" {
  if (term === null || term === undefined) return "unknown";
  if (term === "perpetuity") return "perpetuity";
  return "to" in term ? "to" : "months";
}

export function mediaWords(media: readonly string[], except: readonly string[] = []): string {
  if (media.length === 0) return "no medium yet";
  const base = media.map(mediumWord).join(", ");
  return except.length === 0 ? base : `${base} except ${except.map(mediumWord).join(", ")}`;
}

/** `from signature, for 60 months`, `from 1 Oct 2026 until 9 Jan 2029`, `… end not entered`. */
export function termWords(grant: Grant): string {
  const stop = grant.long_stop ? `, never beyond ${showDate(grant.long_stop)}` : "";
  return baseTerm(grant) + stop;
}

function baseTerm(grant: Grant): string {
  const start = isTrigger(grant.starts)
    ? `from ${triggers.find((trigger) => trigger.value === grant.starts)?.word}`
    : grant.starts
      ? `from ${showDate(grant.starts)}`
      : "start not entered";
  const { term } = grant;
  if (term === null || term === undefined) return `${start}, end not entered`;
  if (term === "perpetuity") return `${start}, in perpetuity`;
  if ("to" in term) return `${start} until ${showDate(term.to)}`;
  const counted =
    grant.counting === "including"
      ? ", the first day counted"
      : grant.counting === "after"
        ? ", counted after the event"
        : ", the earlier way of counting assumed";
  return `${start} for ${term.months} months${counted}`;
}

export function grantWords(grant: Grant): string {
  return `${territoriesWords(grant.territories, grant.territories_except)}; ${mediaWords(
    grant.media,
    grant.media_except,
  )}; ${[termWords(grant), limitWords(grant)].filter(Boolean).join("; ")}`;
}

/** What keeps a grant from being saved, in words; null where nothing does. */
export function grantFault(grant: Grant): string | null {
  if (grant.territories.length === 0)
    return "says no territory: choose the world, a region or countries";
  if (grant.media.length === 0) return "says no medium: choose all media or some";
  if (!grant.starts) return "has no start: choose the event or enter the date";
  if (grant.term && grant.term !== "perpetuity") {
    if ("to" in grant.term) {
      if (!grant.term.to) return "has no last day: enter it, or say that it is not known";
      if (!isTrigger(grant.starts) && grant.term.to < grant.starts) {
        return `ends on ${showDate(grant.term.to)}, before it begins on ${showDate(grant.starts)}`;
      }
    } else if (!Number.isInteger(grant.term.months) || grant.term.months < 1) {
      return "has no number of months";
    }
  }
  if (grant.limits?.runs && !(grant.limits.runs.allowed >= 1)) return "has no number of runs";
  for (const option of grant.options ?? []) {
    if (!(option.months >= 1)) return "has an option without a number of months";
  }
  return null;
}
