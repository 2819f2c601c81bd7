// Which step of a wish to withdraw may come next, and the release with it. Mirrors `withdrawal_out_of_order` and the
// rules of states in server/app/src/db/releases.rs; the server's word is final.
import type { SavedRecord } from "../../api/types";

export type Stage = "requested" | "holding" | "accepted" | "declined" | "acted";

export interface Step {
  step: Stage;
  by: string;
  on: string | null;
  words: string;
}

export function stepsOf(release: SavedRecord): Step[] {
  const details = release.details as { withdrawal_steps?: Step[] } | undefined;
  return details?.withdrawal_steps ?? [];
}

/** What may be entered after these steps; `decides` with the right to decide. */
export function nextStages(steps: readonly Step[], decides: boolean): Stage[] {
  const last = steps.findLast((one) => one.step !== "acted")?.step;
  const acted: Stage[] = last ? ["acted"] : [];
  if (last !== "requested" && last !== "holding") return [...acted, "requested"];
  const held: Stage[] = last === "requested" ? ["holding"] : [];
  const decision: Stage[] = decides ? ["accepted", "declined"] : [];
  return [...held, ...decision, ...acted];
}

/** Fields of the record that are the server's own. */
const OWN = ["id", "series_id", "version", "created_at", "updated_at", "deleted_at"];

/** The release as it is sent when nothing changes. */
export function bodyOf(release: SavedRecord): Record<string, unknown> {
  return Object.fromEntries(Object.entries(release).filter(([name]) => !OWN.includes(name)));
}

/** The release as it is sent with one more step, its withdrawal and state following. */
export function bodyWith(release: SavedRecord, step: Step): Record<string, unknown> {
  const body = bodyOf(release);
  body.details = {
    ...(release.details as object),
    withdrawal_steps: [...stepsOf(release), step],
  };
  if (step.step === "acted") return body;
  body.withdrawal = step.step;
  if (step.step === "requested" || step.step === "holding") {
    body.status = "withdrawn_being_decided";
  } else if (step.step === "accepted") {
    body.status = "problem";
    body.status_note = String(release.status_note ?? "") || "The withdrawal was accepted.";
  } else {
    const restricted = (release.restrictions as unknown[] | undefined)?.length;
    const held = restricted ? "restricted_ok" : "ok";
    body.status = release.signed_on ? held : "asked";
  }
  return body;
}
