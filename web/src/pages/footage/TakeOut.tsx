// Hits taken out of the page: a table of every copy, and the selects in a row for an editing system.
import { Button, Menu } from "@mantine/core";
import { withQuery } from "../../api/client";
import { usePageSearch, useSeriesId } from "../../app/series";
import { wholeWords } from "../../words/amounts";
import { queryOf } from "./finding";

/** More ids than this do not fit into an address. */
const MOST = 180;

export function TakeOut({ picked }: { picked: ReadonlySet<string> }) {
  const series = useSeriesId();
  const search = usePageSearch();
  const some = picked.size > 0 && picked.size <= MOST;
  const query = { ...queryOf(search), ...(some && { chosen: [...picked].join(",") }) };
  const of = some ? ` (the ${wholeWords(picked.size)} chosen)` : " (all that fit)";
  const item = (path: string, words: string) => (
    <Menu.Item component="a" href={withQuery(`/api/series/${series}/${path}`, query)} download>
      {words}
      {of}
    </Menu.Item>
  );
  return (
    <Menu position="bottom-end">
      <Menu.Target>
        <Button variant="default">Take out</Button>
      </Menu.Target>
      <Menu.Dropdown>
        {picked.size > MOST && (
          <Menu.Label>
            More than {MOST} are chosen: narrow the search to what you want instead.
          </Menu.Label>
        )}
        {item("files.csv", "List with every copy, CSV")}
        {item("selects.edl", "Selects in a row, EDL")}
        {item("selects.otio", "Selects in a row, OTIO")}
      </Menu.Dropdown>
    </Menu>
  );
}
