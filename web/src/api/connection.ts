// Whether the server answers, as last seen by any call; the notice bar listens.
export type Connection = "fine" | "unreachable" | "unavailable";

let now: Connection = "fine";
const listeners = new Set<() => void>();

export function reportConnection(state: Connection): void {
  if (state === now) return;
  now = state;
  for (const listener of listeners) listener();
}

export function subscribeConnection(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

export const connection = (): Connection => now;
