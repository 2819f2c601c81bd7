// Who is signed in, what they may do, and where to go when nobody is.
import { queryOptions, useSuspenseQuery } from "@tanstack/react-query";
import { answered, api } from "./client";

export const meQuery = queryOptions({
  queryKey: ["me"] as const,
  queryFn: ({ signal }) => answered(api.GET("/api/me", { signal })),
  staleTime: 60_000,
});

export const useMe = () => useSuspenseQuery(meQuery).data;

/**
 * Only a path on this site: one slash first, no second slash or backslash after it, no control characters,
 * and still our origin once the browser has resolved it (ASVS 3.7.2).
 */
export function safeReturn(path: string | null | undefined): string {
  if (!path?.startsWith("/") || /^\/[/\\]/.test(path)) return "/";
  for (const character of path) {
    if (character.charCodeAt(0) < 0x20 || character === "\\") return "/";
  }
  try {
    const url = new URL(path, window.location.origin);
    if (url.origin !== window.location.origin || url.pathname.startsWith("//")) return "/";
    return url.pathname + url.search + url.hash;
  } catch {
    return "/";
  }
}
