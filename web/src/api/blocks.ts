// Whether an error takes the place of what a page shows. On a bad connection what was read before stays, with what was
// typed into it; the notice above the page says that the server does not answer.
import { ApiError } from "./client";

const AWAY: readonly number[] = [0, 502, 503, 504];

export function blocks({ error, data }: { error: unknown; data?: unknown }): boolean {
  if (!error) return false;
  return data === undefined || !(error instanceof ApiError && AWAY.includes(error.status));
}
