// Sending a list, from a file or from what was pasted, and opening its preview. Nothing is stored by it.
import { useNavigate } from "@tanstack/react-router";
import { type SheetKind, type SheetUpload, uploadPath } from "../../api/sheets";
import { useSeriesId } from "../../app/series";
import { sendFile } from "../fields/DocumentField";

/** Sends a list and opens its preview. */
export function useSendList() {
  const series = useSeriesId();
  const navigate = useNavigate();
  return async (kind: SheetKind, file: File, onSent: (sent: number) => void) => {
    const sent = await sendFile<SheetUpload>(
      "POST",
      uploadPath(series, kind, file.name),
      file,
      "application/octet-stream",
      onSent,
    );
    await navigate({
      to: "/s/$series/team/bring-in",
      params: { series },
      search: { kind, upload: sent.id },
    });
  };
}

export const pasted = (text: string) => new File([text], "Pasted rows", { type: "text/plain" });

/** Text that was copied from a spreadsheet: at least two cells. */
export const isTable = (text: string): boolean =>
  text.includes("\t") && text.trim().includes("\n") && text.length < 5_000_000;
