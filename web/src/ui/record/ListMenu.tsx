// The way in and out for whole lists, on every page of records that lists know: bring in, take out, paste.
import { Button, Menu } from "@mantine/core";
import { Link } from "@tanstack/react-router";
import { useEffect, useState } from "react";
import { downloadList, type SheetKind } from "../../api/sheets";
import { useSeriesId } from "../../app/series";
import { wholeWords } from "../../words/amounts";
import { useToasts } from "../Toasts";
import { isTable, pasted, useSendList } from "./sendList";

export function ListMenu({
  kind,
  may,
  shown,
}: {
  kind: SheetKind;
  may: boolean;
  /** The rows that the page shows, when it doesn't show all. */
  shown: readonly string[] | null;
}) {
  const series = useSeriesId();
  const toasts = useToasts();
  const take = async (form: "csv" | "xlsx") => {
    try {
      await downloadList(series, kind, form, shown);
    } catch (error) {
      toasts.say(`Nothing was taken out: ${error instanceof Error ? error.message : "no answer"}`);
    }
  };
  const some = shown === null ? "" : ` (the ${wholeWords(shown.length)} shown)`;
  return (
    <>
      {may && <Paste kind={kind} />}
      <Menu position="bottom-end">
        <Menu.Target>
          <Button variant="default">Lists</Button>
        </Menu.Target>
        <Menu.Dropdown>
          {may && (
            <Menu.Item component={Link} to={`/s/${series}/team/bring-in?kind=${kind}`}>
              Bring in a list
            </Menu.Item>
          )}
          <Menu.Item onClick={() => take("xlsx")}>Take out as XLSX{some}</Menu.Item>
          <Menu.Item onClick={() => take("csv")}>Take out as CSV{some}</Menu.Item>
        </Menu.Dropdown>
      </Menu>
    </>
  );
}

/** Rows that were copied from a spreadsheet and pasted onto the page open their preview; nothing is stored by it. */
function Paste({ kind }: { kind: SheetKind }) {
  const toasts = useToasts();
  const send = useSendList();
  const [busy, setBusy] = useState(false);
  useEffect(() => {
    const onPaste = async (event: ClipboardEvent) => {
      const target = event.target instanceof HTMLElement ? event.target : null;
      if (busy || target?.closest("input, textarea, select, [contenteditable], [role=dialog]")) {
        return;
      }
      const text = event.clipboardData?.getData("text/plain") ?? "";
      if (!isTable(text)) return;
      event.preventDefault();
      setBusy(true);
      try {
        await send(kind, pasted(text), () => undefined);
      } catch (error) {
        toasts.say(`The rows could not be read: ${error instanceof Error ? error.message : ""}`);
      } finally {
        setBusy(false);
      }
    };
    document.addEventListener("paste", onPaste);
    return () => document.removeEventListener("paste", onPaste);
  }, [busy, kind, send, toasts]);
  return null;
}
