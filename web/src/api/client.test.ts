// Calls: our header on changes, problem details as errors, conflicts with both versions, the connection's state.
import { afterEach, expect, test, vi } from "vitest";
import { ApiError, answered, api, ConflictError, call, post, put } from "./client";
import { connection } from "./connection";

function answer(status: number, body?: unknown, type = "application/problem+json") {
  const response = new Response(body === undefined ? null : JSON.stringify(body), {
    status,
    headers: body === undefined ? {} : { "Content-Type": type },
  });
  const fake = vi.fn<typeof fetch>(async () => response);
  vi.stubGlobal("fetch", fake);
  return fake;
}

/** The request that the fake was called with. */
function requestOf(fake: ReturnType<typeof answer>): Request {
  const request = fake.mock.calls[0]?.[0];
  if (!(request instanceof Request)) throw new Error("nothing was sent");
  return request;
}

afterEach(() => vi.unstubAllGlobals());

test("changes carry our header and the version, reads don't", async () => {
  const fake = answer(200, { id: "1" }, "application/json");
  await put("/api/x/1", { a: 1 }, 7);
  const { headers } = requestOf(fake);
  expect(headers.get("X-Waybill")).toBe("1");
  expect(headers.get("If-Match")).toBe('"7"');
  const reading = answer(200, {}, "application/json");
  await call("GET", "/api/x");
  expect(requestOf(reading).headers.has("X-Waybill")).toBe(false);
});

test("problem details become an error with code, words and fields", async () => {
  answer(422, {
    title: "This can't be saved",
    detail: "One field is wrong.",
    code: "invalid",
    instance: "r-1",
    errors: [{ pointer: "/name", detail: "is needed" }],
  });
  const error = await post("/api/x", {}).catch((cause: unknown) => cause);
  expect(error).toBeInstanceOf(ApiError);
  expect(error).toMatchObject({ status: 422, code: "invalid", instance: "r-1" });
  expect((error as ApiError).fields[0]?.pointer).toBe("/name");
});

test("412 holds what stands there now and who saved it", async () => {
  answer(412, {
    title: "Changed",
    code: "stale",
    current: { id: "1", version: 8 },
    changed_by: "Jory Pell",
    changed_at: "2026-11-25T10:00:00Z",
  });
  const error = await put("/api/x/1", {}, 7).catch((cause: unknown) => cause);
  expect(error).toBeInstanceOf(ConflictError);
  expect((error as ConflictError).current.version).toBe(8);
  expect((error as ConflictError).changedBy).toBe("Jory Pell");
});

test("an answer without a body is none, whatever its status says", async () => {
  answer(202);
  await expect(post("/api/password-resets", {})).resolves.toBeUndefined();
  answer(204);
  await expect(post("/api/sign-out")).resolves.toBeUndefined();
});

test("an error that is no problem document, as from a proxy, is still told in words", async () => {
  const response = new Response("<html>Bad gateway</html>", { status: 502 });
  vi.stubGlobal("fetch", async () => response);
  const error = await post("/api/x", {}).catch((cause: unknown) => cause);
  expect(error).toMatchObject({ status: 502, code: "internal" });
  expect(connection()).toBe("unavailable");
});

test("no answer at all", async () => {
  vi.stubGlobal("fetch", async () => {
    throw new TypeError("Failed to fetch");
  });
  const error = await post("/api/x", {}).catch((cause: unknown) => cause);
  expect(error).toMatchObject({ status: 0, code: "unavailable" });
  expect(connection()).toBe("unreachable");
});

test("typed calls go the same way", async () => {
  const fake = answer(200, { items: [], current: null }, "application/json");
  const list = await answered(api.GET("/api/me/sign-ins"));
  expect(list.current).toBeNull();
  answer(401, { title: "Sign in first", code: "unauthenticated" });
  await expect(answered(api.GET("/api/me"))).rejects.toMatchObject({ status: 401 });
  expect(requestOf(fake).url).toContain("/api/me/sign-ins");
});
