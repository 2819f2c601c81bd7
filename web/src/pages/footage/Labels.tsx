// A sheet of labels to print and stick on: label, serial, owner and a code that opens the drive's page on a phone,
// where it is handed over.
import { Button } from "@mantine/core";
import { renderSVG } from "uqr";
import { useRecords } from "../../api/records";
import { inSeries } from "../../app/areas";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import styles from "./labels.module.css";

/** The address that a drive's code opens. */
export const driveAddress = (origin: string, series: string, drive: string) =>
  `${origin}${inSeries(series, "footage/drives")}?record=${drive}`;

/** The code as a picture's address: nothing from it is read as markup. */
export const codeImage = (text: string) =>
  `data:image/svg+xml,${encodeURIComponent(renderSVG(text, { ecc: "M", border: 2 }))}`;

export function Labels() {
  const series = useSeriesId();
  const here = useSeries();
  const search = usePageSearch();
  const { data, error, refetch } = useRecords(series, "drives");
  const drives = (data ?? []).filter((drive) => !search.record || drive.id === search.record);
  return (
    <Page
      title="Labels"
      place={here?.title}
      lead="Print the sheet and stick a label on each drive. Its code opens the drive's page."
      action={
        <Button onClick={() => window.print()} disabled={drives.length === 0} className="no-print">
          Print
        </Button>
      }
    >
      {error && <ErrorNote error={error} retry={() => refetch()} />}
      {!error && !data && <Waiting what="the drives" />}
      {data && drives.length === 0 && (
        <EmptyState title="No drives yet.">A label is made for each drive.</EmptyState>
      )}
      <ul className={styles.sheet}>
        {drives.map((drive) => (
          <li key={drive.id} className={styles.label}>
            <img
              src={codeImage(driveAddress(window.location.origin, series, drive.id))}
              alt={`Code of ${drive.label}`}
              className={styles.code}
            />
            <div>
              <p className={styles.name}>{String(drive.label)}</p>
              <p>{here?.title}</p>
              <p>{String(drive.serial ?? "")}</p>
            </div>
          </li>
        ))}
      </ul>
    </Page>
  );
}
