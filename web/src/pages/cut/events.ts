// An event of a cut, and the one word for how it stands.
import { elementStates } from "../../api/clearance";
import type { components } from "../../api/schema.gen";
import { type Pattern, patternFor } from "../../words/states";

export type CutEvent = components["schemas"]["CutEvent"];

/** The state, or null for black and for what nothing is asked of. */
export function stateOf(event: CutEvent): string | null {
  if (event.state) return event.state;
  return event.match.kind === "unknown" ? "unknown_source" : null;
}

export function patternOf(event: CutEvent): Pattern {
  const state = stateOf(event);
  return state ? patternFor(elementStates, state) : "none";
}

/** What the event shows, as people call it. */
export function nameOf(event: CutEvent): string {
  return event.match.label || event.clip || event.source_name || event.reel || event.kind;
}
