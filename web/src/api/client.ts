// The one way to the server: openapi-fetch's idea of a call (path, method, body), our header against forged
// requests, problem details turned into a typed error, and the state of the connection for the notice bar.
import { reportConnection } from "./connection";
import type { Problem, ProblemField } from "./types";

/** An answer of the server that is not a success, or no answer at all. */
export class ApiError extends Error {
  constructor(
    readonly status: number,
    readonly code: string,
    readonly title: string,
    readonly detail: string,
    readonly fields: readonly ProblemField[] = [],
    readonly instance: string | null = null,
  ) {
    super(detail || title);
    this.name = "ApiError";
  }
}

/** Somebody saved the record since it was read (412): holds what stands there now. */
export class ConflictError extends ApiError {
  constructor(
    problem: Problem,
    readonly current: Record<string, unknown>,
    readonly changedBy: string | null,
    readonly changedAt: string | null,
  ) {
    super(412, problem.code ?? "stale", problem.title, problem.detail ?? "", [], problem.instance);
    this.name = "ConflictError";
  }
}

export type Method = "GET" | "POST" | "PUT" | "DELETE";

export interface CallOptions {
  /** Sent as JSON. */
  body?: unknown;
  /** The version that the change was made on. */
  ifMatch?: number | string;
  query?: Record<string, string | number | boolean | null | undefined>;
  signal?: AbortSignal;
}

export function withQuery(path: string, query: CallOptions["query"]): string {
  const search = new URLSearchParams();
  for (const [name, value] of Object.entries(query ?? {})) {
    if (value !== null && value !== undefined && value !== "") search.set(name, String(value));
  }
  const text = search.toString();
  return text ? `${path}?${text}` : path;
}

export function problemToError(status: number, problem: Partial<Problem>): ApiError {
  const full: Problem = {
    title: problem.title ?? "The server refused this",
    status,
    detail: problem.detail ?? "",
    code: problem.code ?? (status >= 500 ? "internal" : "bad_request"),
    instance: problem.instance ?? null,
    errors: problem.errors ?? [],
  };
  if (status === 412 && problem.current) {
    return new ConflictError(
      full,
      problem.current,
      problem.changed_by ?? null,
      problem.changed_at ?? null,
    );
  }
  return new ApiError(
    status,
    full.code ?? "internal",
    full.title,
    full.detail ?? "",
    full.errors ?? [],
    full.instance ?? null,
  );
}

async function readProblem(response: Response): Promise<Partial<Problem>> {
  try {
    const body: unknown = await response.json();
    return body !== null && typeof body === "object" ? (body as Partial<Problem>) : {};
  } catch {
    return {};
  }
}

const unreachable = () =>
  new ApiError(
    0,
    "unavailable",
    "The server can't be reached",
    "Check the network. What you typed is still here; send it again when the connection is back.",
  );

/** Calls the server and gives the parsed body, or throws an `ApiError`. */
export async function call<T>(method: Method, path: string, options: CallOptions = {}): Promise<T> {
  const headers = new Headers({ Accept: "application/json" });
  if (method !== "GET") headers.set("X-Waybill", "1");
  if (options.ifMatch !== undefined) headers.set("If-Match", `"${options.ifMatch}"`);
  const init: RequestInit = { method, headers, credentials: "same-origin" };
  if (options.signal) init.signal = options.signal;
  if (options.body !== undefined) {
    headers.set("Content-Type", "application/json");
    init.body = JSON.stringify(options.body);
  }
  let response: Response;
  try {
    response = await fetch(withQuery(path, options.query), init);
  } catch (cause) {
    if (cause instanceof DOMException && cause.name === "AbortError") throw cause;
    reportConnection("unreachable");
    throw unreachable();
  }
  if (response.status === 502 || response.status === 503 || response.status === 504) {
    reportConnection("unavailable");
  } else {
    reportConnection("fine");
  }
  if (!response.ok) throw problemToError(response.status, await readProblem(response));
  const type = response.headers.get("Content-Type") ?? "";
  // Answers without a body (204, and 202 after asking for a reset mail) carry no type either.
  if (response.status === 204 || type === "") return undefined as T;
  if (!type.includes("json")) {
    throw new ApiError(
      response.status,
      "internal",
      "The answer was not what this page expects",
      "Reload the page; if it stays so, the server and the page are of different versions.",
    );
  }
  return (await response.json()) as T;
}

export const get = <T>(path: string, query?: CallOptions["query"], signal?: AbortSignal) =>
  call<T>("GET", path, { ...(query && { query }), ...(signal && { signal }) });
export const post = <T>(path: string, body?: unknown) =>
  call<T>("POST", path, body === undefined ? {} : { body });
export const put = <T>(path: string, body: unknown, ifMatch?: number) =>
  call<T>("PUT", path, { body, ...(ifMatch !== undefined && { ifMatch }) });
export const del = (path: string, ifMatch?: number) =>
  call<void>("DELETE", path, ifMatch === undefined ? {} : { ifMatch });
