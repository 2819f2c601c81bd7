// The cue sheets of an episode that were sent, as they were sent. Only the latest is measured against the cut.
import { useQuery } from "@tanstack/react-query";
import { issuedPath, issuedQuery } from "../../api/cueSheets";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { Stated } from "../../ui/State";
import { counted } from "../../words/amounts";
import { showInstant, showLength } from "../../words/dates";
import reportStyles from "../delivery/report.module.css";

export function IssuedSheets({ episode }: { episode: string }) {
  const series = useSeriesId();
  const may = useMay("view_deliveries");
  const query = useQuery({ ...issuedQuery(series, episode), enabled: may });
  if (!may) return null;
  return (
    <section>
      <h2>Issued sheets</h2>
      {query.error ? (
        <ErrorNote error={query.error} retry={() => query.refetch()} />
      ) : !query.data ? (
        <Waiting what="the issued sheets" />
      ) : query.data.length === 0 ? (
        <p className="quiet">None was issued yet.</p>
      ) : (
        <ul>
          {query.data.map((sheet) => (
            <li key={sheet.id}>
              Sheet {sheet.number}, {showInstant(sheet.issued_at)}, by {sheet.issued_by_name}, from{" "}
              {sheet.cut_name}: {counted(sheet.cues, "cue")}, {showLength(sheet.music_seconds)}
              {sheet.open_points > 0 && `, ${sheet.open_points} open when it was sent`}
              {sheet.age && (
                <div>
                  <Stated pattern={sheet.age.stale ? "gap" : "covered"}>
                    {sheet.age.stale
                      ? `Out of date. ${sheet.age.reasons.join(" ")}`
                      : "Still true."}
                  </Stated>
                </div>
              )}
              <div className={`${reportStyles.forms} no-print`}>
                {(["pdf", "xlsx", "csv"] as const).map((form) => (
                  <a
                    key={form}
                    href={issuedPath(series, sheet.id, form)}
                    download
                    aria-label={`Sheet ${sheet.number} as ${form.toUpperCase()}`}
                  >
                    {form.toUpperCase()}
                  </a>
                ))}
              </div>
              <div className="quiet small" style={{ overflowWrap: "anywhere" }}>
                SHA-256 of the PDF {sheet.pdf_sha256}
              </div>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}
