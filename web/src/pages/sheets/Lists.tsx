// What was brought in, when, by whom, from which file; each can be undone as a whole.
import { Button } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useState } from "react";
import { importsQuery, type SheetImport, undoImport } from "../../api/sheets";
import { useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useToasts } from "../../ui/Toasts";
import { counted, wholeWords } from "../../words/amounts";
import { showInstant } from "../../words/dates";
import { kinds } from "./kinds";
import styles from "./sheets.module.css";

export function Lists() {
  const series = useSeriesId();
  const here = useSeries();
  const query = useQuery(importsQuery(series));
  const imports = query.data?.items ?? [];
  const start = (
    <Button component={Link} to={`/s/${series}/team/bring-in`}>
      Bring in a list
    </Button>
  );
  return (
    <Page
      title="Lists brought in"
      place={here?.title}
      lead="People, releases, music and more, from spreadsheets. Newest first."
      action={start}
    >
      <ErrorNote error={query.error} retry={() => query.refetch()} />
      {query.isPending && <Waiting what="what was brought in" />}
      {query.data && imports.length === 0 && (
        <EmptyState title="No list was brought in yet.">
          Teams have lists already: contributors, tracks, drives, shoot days. Bring them in instead
          of typing them again.
        </EmptyState>
      )}
      <ol className={styles.imports}>
        {imports.map((one) => (
          <li key={one.id}>
            <One one={one} />
          </li>
        ))}
      </ol>
    </Page>
  );
}

function One({ one }: { one: SheetImport }) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const [sure, setSure] = useState(false);
  const undo = useMutation({
    mutationFn: () => undoImport(series, one.id),
    onSuccess: async (undone) => {
      setSure(false);
      await queries.invalidateQueries({ queryKey: ["series", series] });
      toasts.say(
        undone.kept.length === 0
          ? "The import was undone."
          : `The import was undone, but for ${counted(undone.kept.length, "record")}.`,
      );
    },
  });
  const counts = [
    `${wholeWords(one.made)} made`,
    `${wholeWords(one.changed)} changed`,
    `${wholeWords(one.left_out)} left out`,
    one.faulty > 0 && `${wholeWords(one.faulty)} in error left out`,
  ];
  return (
    <>
      <div>
        <div>
          {kinds[one.kind].many} from “{one.file_name}”
        </div>
        <div className="quiet small">
          <time dateTime={one.at}>{showInstant(one.at)}</time> · {one.by} ·{" "}
          {counts.filter(Boolean).join(", ")}
          {one.undone_at && ` · undone ${showInstant(one.undone_at)} by ${one.undone_by}`}
        </div>
      </div>
      {one.may_undo &&
        (sure ? (
          <div className={styles.choices}>
            <span>
              Records that it made go to the bin, others are as before. What was changed since
              stays.
            </span>
            <Button color="brick" loading={undo.isPending} onClick={() => undo.mutate()}>
              Undo the import
            </Button>
            <Button variant="default" onClick={() => setSure(false)}>
              Leave it
            </Button>
          </div>
        ) : (
          <Button
            variant="default"
            aria-label={`Undo the import of “${one.file_name}” …`}
            onClick={() => setSure(true)}
          >
            Undo …
          </Button>
        ))}
      <ErrorNote error={undo.error} saving />
      {one.kept.length > 0 && (
        <details>
          <summary>
            {one.kept.length === 1
              ? "1 record was left as it is"
              : `${wholeWords(one.kept.length)} records were left as they are`}
          </summary>
          <ul>
            {one.kept.map((kept) => (
              <li key={kept.record_id}>
                Row {kept.row}, “{kept.title}”: {kept.words}
              </li>
            ))}
          </ul>
        </details>
      )}
    </>
  );
}
