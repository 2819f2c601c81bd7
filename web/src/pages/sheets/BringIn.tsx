// Bringing in a list: choose a file or paste rows, see how it is read, correct, look at each row, then import. The file
// stands in the address, so that a reload loses nothing that the server has.
import { Button, Checkbox, Progress, Select, Textarea } from "@mantine/core";
import { useQuery, useQueryClient } from "@tanstack/react-query";
import { useNavigate } from "@tanstack/react-router";
import { useState } from "react";
import { useMe } from "../../api/session";
import {
  downloadFaulty,
  importSheet,
  previewQuery,
  type SheetAsk,
  type SheetKind,
  type SheetPreview,
  undoImport,
} from "../../api/sheets";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { UploadBox } from "../../ui/fields/DocumentField";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useGo } from "../../ui/record/RecordsPage";
import { pasted, useSendList } from "../../ui/record/sendList";
import { useToasts } from "../../ui/Toasts";
import { wholeWords } from "../../words/amounts";
import { cautions } from "../../words/cautions";
import { asked, importWords, withMapping } from "./ask";
import { isSheetKind, kinds } from "./kinds";
import { Mapping } from "./Mapping";
import { Reading } from "./Reading";
import { Rows, type Shown } from "./Rows";
import styles from "./sheets.module.css";

const LIMIT = 10 * 1024 * 1024;

export function BringIn() {
  const here = useSeries();
  const search = usePageSearch();
  const me = useMe();
  const mine = (Object.keys(kinds) as SheetKind[]).filter(
    (kind) => me.user.is_admin || here?.actions.includes(kinds[kind].action),
  );
  const asks = isSheetKind(search.kind) && mine.includes(search.kind) ? search.kind : null;
  const kind = asks ?? mine[0];
  return (
    <Page
      title="Bring in a list"
      place={here?.title}
      lead="From a spreadsheet or a text file. You see what each row would do before anything is stored, and an import can be undone as a whole."
    >
      {kind === undefined ? (
        <EmptyState title="None of your roles in this series allows this.">
          Lists can be brought in by those who may change the records themselves.
        </EmptyState>
      ) : search.upload ? (
        <Desk key={search.upload} id={search.upload} />
      ) : (
        <Choose kind={kind} mine={mine} />
      )}
      {(kind === "people" || kind === "releases") && <Caution>{cautions.personal}</Caution>}
    </Page>
  );
}

function Choose({ kind, mine }: { kind: SheetKind; mine: SheetKind[] }) {
  const go = useGo();
  const sendList = useSendList();
  const [rows, setRows] = useState("");
  const [sent, setSent] = useState<{ done: number; of: number } | null>(null);
  const [error, setError] = useState<unknown>(null);
  const send = async (file: File) => {
    setError(null);
    if (file.size > LIMIT) {
      setError(
        new Error(`“${file.name}” is larger than 10 MB. Copy the list alone into a new file.`),
      );
      return;
    }
    setSent({ done: 0, of: file.size });
    try {
      await sendList(kind, file, (done) => setSent({ done, of: file.size }));
    } catch (cause) {
      setError(cause);
    } finally {
      setSent(null);
    }
  };
  return (
    <>
      <div className={styles.choices}>
        <Select
          label="A list of"
          data={mine.map((value) => ({ value, label: kinds[value].many.toLowerCase() }))}
          value={kind}
          allowDeselect={false}
          onChange={(value) => go({ kind: value ?? undefined }, true)}
        />
      </div>
      <UploadBox
        label="Choose a list"
        hint="Drop a workbook (.xlsx) or a text file with separators (.csv, .tsv) here."
        accept=".xlsx,.csv,.tsv,.txt"
        busy={sent !== null}
        onFile={send}
      >
        {sent && (
          <Progress
            style={{ flex: 1, minWidth: "8rem" }}
            value={(100 * sent.done) / Math.max(1, sent.of)}
            aria-label="Sending the list"
          />
        )}
      </UploadBox>
      <Textarea
        mt="md"
        label="Or paste rows from a spreadsheet"
        description="With the row of headings."
        autosize
        minRows={3}
        maxRows={12}
        value={rows}
        onChange={(event) => setRows(event.currentTarget.value)}
      />
      <Button
        mt="xs"
        variant="default"
        disabled={!rows.trim() || sent !== null}
        onClick={() => send(pasted(rows))}
      >
        Look at these rows
      </Button>
      <ErrorNote error={error} saving />
    </>
  );
}

function Desk({ id }: { id: string }) {
  const series = useSeriesId();
  const go = useGo();
  const [ask, setAsk] = useState<SheetAsk>(asked);
  const [shown, setShown] = useState<Shown>({ outcome: null, from: 0 });
  const query = useQuery(previewQuery(series, id, ask, shown.outcome, shown.from));
  const change = (next: SheetAsk) => {
    setAsk(next);
    setShown((before) => ({ ...before, from: 0 }));
  };
  const another = () => go({ upload: undefined });
  const seen = query.data;
  if (!seen) {
    return query.error ? (
      <>
        <ErrorNote error={query.error} retry={() => query.refetch()} />
        <Button variant="default" mt="sm" onClick={another}>
          Choose another file
        </Button>
      </>
    ) : (
      <Waiting what="the list" />
    );
  }
  const onMapping = (mapping: SheetPreview["mapping"]) => change(withMapping(ask, mapping));
  return (
    <div aria-busy={query.isFetching}>
      <p className="quiet">
        {kinds[seen.kind].many}. The file is kept for a day, for you alone, and then deleted.{" "}
        <Button variant="default" size="compact-sm" onClick={another}>
          Choose another file
        </Button>
      </p>
      <ErrorNote error={query.error} retry={() => change(asked)} />
      <Reading seen={seen} ask={ask} onAsk={change} onMapping={onMapping} />
      <Mapping series={series} seen={seen} ask={ask} onAsk={change} onMapping={onMapping} />
      <Rows seen={seen} ask={ask} shown={shown} onAsk={setAsk} onShown={setShown} />
      <Foot id={id} seen={seen} ask={ask} waits={query.isFetching} again={() => query.refetch()} />
    </div>
  );
}

function Foot({
  id,
  seen,
  ask,
  waits,
  again,
}: {
  id: string;
  seen: SheetPreview;
  ask: SheetAsk;
  waits: boolean;
  again: () => Promise<unknown>;
}) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const navigate = useNavigate();
  const [onlyGood, setOnlyGood] = useState(false);
  const [busy, setBusy] = useState(false);
  const [error, setError] = useState<unknown>(null);
  const { counts } = seen;
  const nothing = counts.would_make + counts.would_change === 0;
  const refresh = async () => {
    await queries.invalidateQueries({ queryKey: ["series", series] });
    await queries.invalidateQueries({ queryKey: ["home"] });
  };
  const bringIn = async () => {
    setBusy(true);
    setError(null);
    try {
      const made = await importSheet(series, id, ask, seen.fingerprint, onlyGood);
      await refresh();
      toasts.offerUndo(
        `Brought in: ${wholeWords(made.made)} made, ${wholeWords(made.changed)} changed, ${wholeWords(made.left_out + made.faulty)} left out.`,
        async () => {
          const undone = await undoImport(series, made.id);
          await refresh();
          if (undone.kept.length > 0) {
            throw new Error(
              undone.kept.length === 1
                ? "1 record was changed since or is in use, and stays. “Lists brought in” names it."
                : `${wholeWords(undone.kept.length)} records were changed since or are in use, and stay. “Lists brought in” names them.`,
            );
          }
        },
      );
      await navigate({ to: `/s/${series}/${kinds[seen.kind].place}` });
    } catch (cause) {
      setError(cause);
      await again();
    } finally {
      setBusy(false);
    }
  };
  const save = async () => {
    setError(null);
    try {
      await downloadFaulty(series, id, ask);
    } catch (cause) {
      setError(cause);
    }
  };
  return (
    <>
      <ErrorNote error={error} saving />
      <div className={`${styles.foot} no-print`}>
        <Button
          onClick={bringIn}
          loading={busy}
          disabled={waits || nothing || (counts.blocking > 0 && !onlyGood)}
        >
          {importWords(counts.would_make, counts.would_change)}
        </Button>
        {counts.faulty > 0 && (
          <>
            {counts.blocking > 0 && (
              <Checkbox
                label={`Only the good rows: leave out the ${wholeWords(counts.blocking)} in error`}
                checked={onlyGood}
                onChange={(event) => setOnlyGood(event.currentTarget.checked)}
              />
            )}
            <Button variant="default" onClick={save}>
              Download the rows in error
            </Button>
          </>
        )}
        <output className="quiet">{waits ? "Looking again …" : ""}</output>
      </div>
    </>
  );
}
