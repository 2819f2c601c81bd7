// What a change that came too late does to what the page shows.
import { QueryObserver } from "@tanstack/react-query";
import { expect, test, vi } from "vitest";
import { ApiError } from "../api/client";
import { makeQueryClient } from "./queryClient";

// Source: trust-and-use 1.4: a write on an old version answers 412; the reader then sees what stands there.
test("after a change on an old version the page is read anew, after another fault it is not", async () => {
  const queries = makeQueryClient(() => ({ state: { location: {} } }) as never);
  const read = vi.fn(async () => "what stands there");
  const stop = new QueryObserver(queries, { queryKey: ["cue"], queryFn: read }).subscribe(() => {});
  await vi.waitFor(() => expect(read).toHaveBeenCalledTimes(1));
  const fail = (status: number) =>
    queries
      .getMutationCache()
      .build(queries, {
        mutationFn: () => Promise.reject(new ApiError(status, "code", "Title", "")),
      })
      .execute(undefined)
      .catch(() => {});
  await fail(422);
  expect(read).toHaveBeenCalledTimes(1);
  await fail(412);
  await vi.waitFor(() => expect(read).toHaveBeenCalledTimes(2));
  stop();
});
