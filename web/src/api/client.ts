// The one way to the server: openapi-fetch over the generated types, our header against forged requests,
// problem details turned into a typed error, and the state of the connection for the notice bar.
import createClient from "openapi-fetch";
import { reportConnection } from "./connection";
import type { paths } from "./schema.gen";
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
  /** Sent as it is. */
  raw?: Blob;
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

/**
 * Sends a request with our header against forged requests; throws an `ApiError` for every answer that is no success.
 * An answer without a body comes back as 204, whatever its status was.
 */
export async function send(request: Request): Promise<Response> {
  request.headers.set("Accept", "application/json");
  if (request.method !== "GET") request.headers.set("X-Waybill", "1");
  let response: Response;
  try {
    response = await fetch(request);
  } catch (cause) {
    if (cause instanceof DOMException && cause.name === "AbortError") throw cause;
    reportConnection("unreachable");
    throw unreachable();
  }
  const away = response.status === 502 || response.status === 503 || response.status === 504;
  reportConnection(away ? "unavailable" : "fine");
  if (!response.ok) throw problemToError(response.status, await readProblem(response));
  const type = response.headers.get("Content-Type") ?? "";
  if (response.status === 204 || type === "") return new Response(null, { status: 204 });
  if (!type.includes("json")) {
    throw new ApiError(
      response.status,
      "internal",
      "The answer was not what this page expects",
      "Reload the page; if it stays so, the server and the page are of different versions.",
    );
  }
  return response;
}

/** Calls by the paths of the OpenAPI document: a call that no longer fits it does not compile. */
export const api = createClient<paths>({
  baseUrl: window.location.origin,
  credentials: "same-origin",
  fetch: send,
});

/** The body of a typed call's answer; `send` has thrown for every answer that has none of the promised shape. */
export async function answered<T>(call: Promise<{ data?: T }>): Promise<T> {
  return (await call).data as T;
}

/** The header of a change: the version that it was made on. */
export const onVersion = (version: number) => ({ "If-Match": `"${version}"` });

/** Calls the server by a path put together here, for what is the same for every kind of record. */
export async function call<T>(method: Method, path: string, options: CallOptions = {}): Promise<T> {
  const headers = new Headers();
  if (options.ifMatch !== undefined) headers.set("If-Match", `"${options.ifMatch}"`);
  const init: RequestInit = { method, headers, credentials: "same-origin" };
  if (options.signal) init.signal = options.signal;
  if (options.body !== undefined) {
    headers.set("Content-Type", "application/json");
    init.body = JSON.stringify(options.body);
  }
  if (options.raw !== undefined) init.body = options.raw;
  const url = new URL(withQuery(path, options.query), window.location.origin);
  const response = await send(new Request(url, init));
  return response.status === 204 ? (undefined as T) : ((await response.json()) as T);
}

export const get = <T>(path: string, query?: CallOptions["query"], signal?: AbortSignal) =>
  call<T>("GET", path, { ...(query && { query }), ...(signal && { signal }) });
export const post = <T>(path: string, body?: unknown) =>
  call<T>("POST", path, body === undefined ? {} : { body });
export const put = <T>(path: string, body: unknown, ifMatch?: number) =>
  call<T>("PUT", path, { body, ...(ifMatch !== undefined && { ifMatch }) });
export const del = (path: string, ifMatch?: number) =>
  call<void>("DELETE", path, ifMatch === undefined ? {} : { ifMatch });
