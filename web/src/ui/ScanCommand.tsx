// How a drive is scanned into this series: the command whole, ready to be copied.
import { Link } from "@tanstack/react-router";
import { useSeries } from "../app/series";
import styles from "./ScanCommand.module.css";

export function ScanCommand() {
  const series = useSeries();
  const title = series?.title.includes('"') ? series.id : (series?.title ?? "");
  return (
    <>
      <p>
        Scan a drive with the waybill command on the computer that it is plugged into. Its cards and
        files then appear here by themselves.
      </p>
      <code className={styles.command}>
        waybill scan FOLDER --drive LABEL --series "{title}" --to {window.location.origin}
      </code>
      <p>
        It asks for a token in WAYBILL_TOKEN: make one under <Link to="/account">your account</Link>
        .
      </p>
    </>
  );
}
