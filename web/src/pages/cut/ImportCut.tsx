// Importing a cut: the file as it comes from the edit, its name, and the frame rate where the list doesn't say.
import { Progress, Select, TextInput } from "@mantine/core";
import { useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import type { Cut } from "../../api/clearance";
import { withQuery } from "../../api/client";
import { type Episode, useSeriesId } from "../../app/series";
import { sendFile, UploadBox } from "../../ui/fields/DocumentField";
import { ErrorNote } from "../../ui/Notes";
import { useToasts } from "../../ui/Toasts";
import { counted } from "../../words/amounts";
import styles from "./cut.module.css";

const LIMIT = 20 * 1024 * 1024;
const rates = ["23.976", "24", "25", "29.97", "29.97df", "30", "50", "59.94", "59.94df", "60"];

export function ImportCut({ episode }: { episode: Episode }) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const [name, setName] = useState("");
  const [rate, setRate] = useState<string | null>(null);
  const [sent, setSent] = useState<{ done: number; of: number } | null>(null);
  const [error, setError] = useState<unknown>(null);

  const send = async (file: File) => {
    setError(null);
    if (file.size > LIMIT) {
      setError(
        new Error(
          `“${file.name}” is larger than the 20 MiB that a cut may have. Nothing was sent.`,
        ),
      );
      return;
    }
    setSent({ done: 0, of: file.size });
    const path = withQuery(`/api/series/${series}/episodes/${episode.id}/cuts`, {
      name: name.trim(),
      file: file.name,
      rate,
    });
    try {
      const cut = await sendFile<Cut>("POST", path, file, "text/plain", (done) =>
        setSent({ done, of: file.size }),
      );
      setName("");
      await queries.invalidateQueries({ queryKey: ["series", series] });
      const unknown = cut.counts.unknown_sources;
      toasts.say(
        `“${cut.name}” was imported: ${counted(cut.counts.events, "event")}, ${
          unknown === 0 ? "every source known" : counted(unknown, "unknown source")
        }.`,
      );
    } catch (cause) {
      setError(cause);
    } finally {
      setSent(null);
    }
  };

  return (
    <section className={`${styles.import} no-print`} aria-label="Import a cut">
      <div className={styles.importFields}>
        <TextInput
          label="Name of the cut"
          description="Its date and version say which is the latest. Left empty, the file's name is taken."
          placeholder="as EP03_CUT_260714_v2"
          maxLength={200}
          value={name}
          onChange={(event) => setName(event.currentTarget.value)}
        />
        <Select
          label="Frame rate"
          description="Where the list doesn't say; left empty, the series' usual rate is taken."
          placeholder="as the series"
          data={rates.map((value) => ({
            value,
            label: value.endsWith("df") ? `${value.slice(0, -2)} drop-frame` : value,
          }))}
          value={rate}
          onChange={setRate}
          clearable
          clearButtonProps={{ "aria-label": "As the series" }}
        />
      </div>
      <UploadBox
        label="Import a cut"
        hint="Drop an edit decision list (.edl) or OpenTimelineIO file (.otio) here."
        busy={sent !== null}
        onFile={send}
      >
        {sent && (
          <Progress
            style={{ flex: 1, minWidth: "8rem" }}
            value={(100 * sent.done) / sent.of}
            aria-label="Sending the cut"
          />
        )}
      </UploadBox>
      <ErrorNote error={error} saving />
    </section>
  );
}
