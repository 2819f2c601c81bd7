// The part of the address after `?`: plain text values, shared by all pages, so that a view can be sent on.
export interface PageSearch {
  /** The record that is open beside its list; `new` for one being made. */
  record?: string | undefined;
  /** `yes` while the open record is being edited. */
  edit?: string | undefined;
  q?: string | undefined;
  /** A column's name, with `-` before it for the other way round. */
  sort?: string | undefined;
  state?: string | undefined;
  episode?: string | undefined;
  [name: string]: string | undefined;
}

export function parseSearch(text: string): Record<string, string> {
  return Object.fromEntries(new URLSearchParams(text));
}

export function stringifySearch(search: Record<string, unknown>): string {
  const out = new URLSearchParams();
  for (const [name, value] of Object.entries(search)) {
    if (value !== undefined && value !== null && value !== "") out.set(name, String(value));
  }
  const text = out.toString();
  return text ? `?${text}` : "";
}

export function validateSearch(search: Record<string, unknown>): PageSearch {
  const out: PageSearch = {};
  for (const [name, value] of Object.entries(search)) {
    if (value !== undefined && value !== null && value !== "") out[name] = String(value);
  }
  return out;
}
