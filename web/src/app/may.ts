// What the reader's roles allow in this series, by the names of the server's table (domain::perms).
import { useMe } from "../api/session";
import type { Action } from "../api/types";
import { useSeries } from "./series";

export function useMay(action: Action): boolean {
  const me = useMe();
  const series = useSeries();
  return me.user.is_admin || (series?.actions.includes(action) ?? false);
}
