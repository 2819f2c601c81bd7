// May a card be wiped (R38)? Every reason when not, and post's word on it.
import { Button, Textarea } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { Caution, ErrorNote, Waiting } from "../../ui/Notes";
import recordStyles from "../../ui/record/record.module.css";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { wholeWords } from "../../words/amounts";
import { showInstant } from "../../words/dates";

/** Reasons that are listed at once; the rest unfolds. */
const SHOWN = 8;

export function CardSafety({ card, state }: { card: string; state: string }) {
  const series = useSeriesId();
  const { data, error, refetch } = useQuery({
    queryKey: ["series", series, "cards", "safety", card],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/cards/{id}/safety", {
          params: { path: { series, id: card } },
          signal,
        }),
      ),
  });
  if (error) return <ErrorNote error={error} retry={() => refetch()} />;
  if (!data) return <Waiting what="what stands against wiping it" />;
  const rest = data.reasons.slice(SHOWN);
  return (
    <section>
      <h3>May it be wiped?</h3>
      {state === "wiped" ? (
        <p>
          <Stated pattern="none">It was wiped.</Stated>
        </p>
      ) : (
        <p>
          {data.safe ? (
            <Stated pattern="covered">Safe to wipe: nothing stands against it.</Stated>
          ) : (
            <Stated pattern="gap">
              Do not wipe it:{" "}
              {data.reasons.length === 1 ? "one reason" : `${data.reasons.length} reasons`} against
              it.
            </Stated>
          )}
        </p>
      )}
      <ul className={recordStyles.related}>
        {data.reasons.slice(0, SHOWN).map((reason) => (
          <li key={reason.words}>{reason.words}</li>
        ))}
      </ul>
      {rest.length > 0 && (
        <details>
          <summary>{wholeWords(rest.length)} more</summary>
          <ul className={recordStyles.related}>
            {rest.map((reason) => (
              <li key={reason.words}>{reason.words}</li>
            ))}
          </ul>
        </details>
      )}
      {data.one_device.map((words) => (
        <p key={words}>
          <Stated pattern="restricted">{words}</Stated>
        </p>
      ))}
      {data.copies_apart && (
        <p className="quiet small">In this series two copies in one place do not count as two.</p>
      )}
      <Caution>
        “Safe to wipe” depends on the lists of files being complete. Keep the card until post
        reports.
      </Caution>
      {data.other_rates.length > 0 && (
        <>
          <h3>Frame rate</h3>
          <ul className={recordStyles.related}>
            {data.other_rates.map((words) => (
              <li key={words}>
                <Stated pattern="restricted">{words}</Stated>
              </li>
            ))}
          </ul>
          <p className="quiet small">Post needs to know whether that was meant.</p>
        </>
      )}
      <Reports card={card} reports={data.reports} />
    </section>
  );
}

interface Report {
  id: string;
  positive: boolean;
  words: string;
  given_by_name: string;
  given_at: string;
}

function Reports({ card, reports }: { card: string; reports: readonly Report[] }) {
  const series = useSeriesId();
  const may = useMay("report_footage");
  const queries = useQueryClient();
  const toasts = useToasts();
  const [words, setWords] = useState("");
  const give = useMutation({
    mutationFn: (positive: boolean) =>
      answered(
        api.POST("/api/series/{series}/cards/{id}/reports", {
          params: { path: { series, id: card } },
          body: { positive, words },
        }),
      ),
    onSuccess: async () => {
      setWords("");
      toasts.say("Post's report was saved.");
      await queries.invalidateQueries({ queryKey: ["series", series] });
    },
  });
  return (
    <>
      <h3>Post’s report</h3>
      {reports.length === 0 && <p className="quiet">Post has not reported on this card yet.</p>}
      <ul className={recordStyles.related}>
        {reports.map((report) => (
          <li key={report.id}>
            <Stated pattern={report.positive ? "covered" : "gap"}>
              {report.positive ? "All of it is good" : "Not all of it is good"}
              <span className="quiet small">
                {" "}
                {[report.given_by_name, showInstant(report.given_at), report.words]
                  .filter(Boolean)
                  .join("; ")}
              </span>
            </Stated>
          </li>
        ))}
      </ul>
      {may && (
        <div className="no-print">
          <Textarea
            label="What post found"
            description="Needed where something is wrong."
            autosize
            minRows={2}
            maxLength={2000}
            value={words}
            onChange={(event) => setWords(event.currentTarget.value)}
          />
          <div className={recordStyles.buttons}>
            <Button loading={give.isPending} onClick={() => give.mutate(true)}>
              All of it is good
            </Button>
            <Button
              variant="default"
              disabled={!words.trim()}
              loading={give.isPending}
              onClick={() => give.mutate(false)}
            >
              Something is wrong
            </Button>
          </div>
          <ErrorNote error={give.error} saving />
        </div>
      )}
    </>
  );
}
