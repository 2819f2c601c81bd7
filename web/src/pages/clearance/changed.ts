// What of a clearance is different from what somebody looked at when they began to approve it.
import { type ElementAnswer, elementStates } from "../../api/clearance";
import { wordFor } from "../../words/states";

export interface ChangedElement {
  id: string;
  label: string;
  /** What became of it, to stand after its name. */
  words: string;
  /** Whether it can still be opened. */
  there: boolean;
}

export function changedElements(
  then: readonly ElementAnswer[],
  now: readonly ElementAnswer[],
): ChangedElement[] {
  const before = new Map(then.map((one) => [one.id, one]));
  const after = new Set(now.map((one) => one.id));
  const found: ChangedElement[] = [];
  for (const one of now) {
    const old = before.get(one.id);
    const state = wordFor(elementStates, one.state);
    if (!old) {
      found.push({ id: one.id, label: one.label, words: `is new: ${state}.`, there: true });
    } else if (old.state !== one.state) {
      const words = `was ${wordFor(elementStates, old.state)} and is ${state} now.`;
      found.push({ id: one.id, label: one.label, words, there: true });
    } else if (JSON.stringify(old) !== JSON.stringify(one)) {
      const words = `has other uses, papers or reasons; it is ${state}, as it was.`;
      found.push({ id: one.id, label: one.label, words, there: true });
    }
  }
  for (const { id, label } of then) {
    if (!after.has(id)) found.push({ id, label, words: "is no longer in it.", there: false });
  }
  return found;
}
