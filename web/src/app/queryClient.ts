// Server state. A 401 anywhere leads to the sign-in page and back; only unreachable servers are asked again.
import { MutationCache, QueryCache, QueryClient } from "@tanstack/react-query";
import { ApiError } from "../api/client";
import type { AppRouter } from "./router";

export function makeQueryClient(router: () => AppRouter): QueryClient {
  const onError = (error: unknown) => {
    if (!(error instanceof ApiError) || error.status !== 401) return;
    const { href, pathname } = router().state.location;
    if (pathname === "/sign-in") return;
    queries.removeQueries({ queryKey: ["me"] });
    router().navigate({ to: "/sign-in", search: { return: href } });
  };
  const queries: QueryClient = new QueryClient({
    queryCache: new QueryCache({ onError }),
    mutationCache: new MutationCache({
      onError: (error, _variables, _context, mutation) => {
        // A wrong password answers 401 too; those forms show it themselves.
        if (mutation.meta?.signedOut !== true) onError(error);
        // Somebody else was first: the page shows theirs, and the next try is made on it.
        if (error instanceof ApiError && error.status === 412) void queries.invalidateQueries();
      },
    }),
    defaultOptions: {
      // A paused call would look saved or loading for ever; failing at once says what happened.
      mutations: { networkMode: "always" },
      queries: {
        networkMode: "always",
        staleTime: 15_000,
        retry: (count, error) => error instanceof ApiError && error.status === 0 && count < 2,
      },
    },
  });
  return queries;
}
