// A whole page of one kind of record: list with find, order and state filter; the open record beside it;
// a new one made in the same place. Everything that is chosen stands in the address.

import { Button, Select, TextInput } from "@mantine/core";
import { useNavigate } from "@tanstack/react-router";
import { useCallback, useMemo, useRef } from "react";
import { blocks } from "../../api/blocks";
import { LIST_LIMIT, useRecordChanges, useRecords } from "../../api/records";
import { sheetKinds } from "../../api/sheets";
import type { SavedRecord } from "../../api/types";
import { useKey } from "../../app/keys";
import { useMay } from "../../app/may";
import type { PageSearch } from "../../app/search";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { wholeWords } from "../../words/amounts";
import { andList } from "../../words/lists";
import { EmptyState, ErrorNote, Waiting } from "../Notes";
import { Page } from "../Page";
import { TakeRows } from "../TakeTable";
import { useToasts } from "../Toasts";
import type { Description, Field, Values } from "./description";
import { useFocusBack, useOpened } from "./focus";
import { ListMenu } from "./ListMenu";
import { type Lookup, type Referable, useLookup } from "./lookup";
import { RecordForm } from "./RecordForm";
import { RecordPanel } from "./RecordPanel";
import { bareColumns, filtered, RecordTable, shownRows, sorted } from "./RecordTable";
import styles from "./record.module.css";

export interface RecordsPageProps {
  description: Description;
  /** Kinds whose names the list shows, besides those that the fields refer to. */
  alsoNames?: readonly Referable[];
  below?: (record: SavedRecord) => React.ReactNode;
  /** Values that a new record starts with, from the address. */
  start?: (search: PageSearch) => Values;
  /** Rows that the page leaves out, by its own filters in the address. */
  only?: (record: SavedRecord, search: PageSearch) => boolean;
  above?: React.ReactNode;
}

function kindsOf(description: Description, also: readonly Referable[]): Referable[] {
  const kinds = description.fields.flatMap(kindsOfField);
  return [...new Set([...kinds, ...also])];
}

/** The kinds whose names a field shows or offers. */
function kindsOfField(field: Field): Referable[] {
  switch (field.type) {
    case "reference":
    case "references":
      return [field.kind];
    case "rows":
      return field.of.flatMap(kindsOfField);
    case "grants":
      return ["territory-groups"];
    case "territories":
      return field.except ? ["territory-groups"] : [];
    case "restrictions":
      return ["territory-groups", "people"];
    default:
      return [];
  }
}

export function RecordsPage(props: RecordsPageProps) {
  const { description, alsoNames = [], above } = props;
  const series = useSeriesId();
  const here = useSeries();
  const search = usePageSearch();
  const may = useMay(description.action);
  const lookup = useLookup(series, kindsOf(description, alsoNames));
  const go = useGo();
  const makeNew = useCallback(() => may && go({ record: "new", edit: undefined }), [may, go]);
  useKey("n", makeNew);
  useFocusBack(search.record);
  return (
    <Page
      title={description.many}
      place={here?.title}
      lead={description.lead}
      action={
        <Button
          onClick={makeNew}
          disabled={!may}
          title={may ? undefined : "None of your roles in this series allows this."}
        >
          New {description.one}
        </Button>
      }
    >
      {above && (
        <div className={styles.above} data-open={search.record ? true : undefined}>
          {above}
        </div>
      )}
      <div className={styles.split} data-open={search.record ? true : undefined}>
        <div className={styles.list}>
          <List {...props} lookup={lookup} makeNew={makeNew} may={may} />
        </div>
        {search.record && (
          <section className={styles.beside} aria-label={`The open ${description.one}`}>
            <Beside {...props} lookup={lookup} id={search.record} may={may} />
          </section>
        )}
      </div>
    </Page>
  );
}

/** The record that is open when an undo is done, long after the page was drawn. */
const shownNow = () => new URLSearchParams(window.location.search).get("record");

/** Changes part of the address; the rest of the view stays. */
export function useGo() {
  const navigate = useNavigate();
  return useCallback(
    (changes: PageSearch, replace = false) =>
      navigate({
        to: ".",
        search: (search: PageSearch) => ({ ...search, ...changes }),
        replace,
        resetScroll: false,
      }),
    [navigate],
  );
}

function List({
  description,
  lookup,
  makeNew,
  may,
  only,
}: RecordsPageProps & { lookup: Lookup; makeNew: () => void; may: boolean }) {
  const series = useSeriesId();
  const search = usePageSearch();
  const query = useRecords(series, description.kind);
  const go = useGo();
  const list = sheetKinds[description.kind];
  const sort = search.sort ?? description.order;
  const all = query.data;
  const mine = useMemo(() => {
    const rows = all ?? [];
    const { state, byEpisode } = description;
    return rows.filter(
      (record) =>
        (!byEpisode || !search.episode || record.episode_id === search.episode) &&
        (!state || !search.state || record[state.field] === search.state) &&
        (!only || only(record, search)),
    );
  }, [all, description, search, only]);
  const found = filtered(mine, description.columns, lookup, search.q);
  const shown = sorted(found, description.columns, lookup, sort);
  const bare = bareColumns(description.columns, all ?? [], lookup);
  const bareWords = andList(bare.map(({ header }) => header.toLowerCase()));
  const filled = description.columns.filter((column) => !bare.includes(column));

  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!all) return <Waiting what={`the ${description.many.toLowerCase()}`} />;
  if (all.length === 0) {
    return (
      <EmptyState
        title={description.empty.title}
        action={
          may && (
            <>
              <Button variant="default" onClick={makeNew}>
                Make the first
              </Button>
              {list && <ListMenu kind={list} may={may} shown={null} />}
            </>
          )
        }
      >
        {description.empty.text}
      </EmptyState>
    );
  }
  return (
    <>
      <Tools description={description} lookup={lookup} shown={shown} all={all.length} may={may} />
      {all.length >= LIST_LIMIT && (
        <p>
          There are more. Only the first {wholeWords(LIST_LIMIT)} that were entered stand here and
          are looked through.
        </p>
      )}
      <RecordTable
        description={{ ...description, columns: filled }}
        records={shown}
        lookup={lookup}
        sort={sort}
        onSort={(next) => go({ sort: next }, true)}
        selected={search.record}
      />
      {shown.length === 0 && (
        <p className="quiet">
          Nothing here fits the filter.{" "}
          <Button
            variant="default"
            size="compact-sm"
            onClick={() => go({ q: undefined, state: undefined, episode: undefined }, true)}
          >
            Show all
          </Button>
        </p>
      )}
      {bare.length > 0 && (
        <p className="quiet small no-print">
          Not entered for any {description.one} yet: {bareWords}.
          {may && " Open one and choose Edit to say it."}
        </p>
      )}
    </>
  );
}

function Tools({
  description,
  shown,
  lookup,
  all,
  may,
}: {
  description: Description;
  shown: readonly SavedRecord[];
  lookup: Lookup;
  all: number;
  may: boolean;
}) {
  const list = sheetKinds[description.kind];
  const search = usePageSearch();
  const go = useGo();
  return (
    <search className={`${styles.tools} no-print`}>
      <TextInput
        data-find
        className={styles.find ?? ""}
        aria-label={`Find in ${description.many.toLowerCase()}`}
        placeholder="Find"
        value={search.q ?? ""}
        onChange={(event) => go({ q: event.currentTarget.value || undefined }, true)}
      />
      {description.state && (
        <Select
          aria-label="State"
          placeholder="any state"
          data={description.state.words.map((word) => ({ value: word.value, label: word.word }))}
          value={search.state ?? null}
          clearable
          clearButtonProps={{ "aria-label": "Any state" }}
          onChange={(state) => go({ state: state ?? undefined }, true)}
        />
      )}
      <output className={styles.count}>
        {shown.length === all ? "" : `${wholeWords(shown.length)} of `}
        {wholeWords(all)} {all === 1 ? description.one : description.many.toLowerCase()}
      </output>
      {list ? (
        <ListMenu
          kind={list}
          may={may}
          shown={shown.length === all ? null : shown.map((record) => record.id)}
        />
      ) : (
        <TakeRows
          name={description.kind}
          rows={() => shownRows(description.columns, shown, lookup)}
        />
      )}
    </search>
  );
}

function Beside({
  description,
  lookup,
  id,
  may,
  below,
  start,
}: RecordsPageProps & { lookup: Lookup; id: string; may: boolean }) {
  const series = useSeriesId();
  const search = usePageSearch();
  const toasts = useToasts();
  const changes = useRecordChanges(series, description.kind);
  const go = useGo();
  const close = useCallback(() => go({ record: undefined, edit: undefined }), [go]);
  const edit = useCallback((editing: boolean) => go({ edit: editing ? "yes" : undefined }), [go]);
  const startingValues = useMemo(() => {
    const given = start?.(search) ?? {};
    return description.byEpisode && search.episode
      ? { episode_id: search.episode, ...given }
      : given;
  }, [start, search, description.byEpisode]);

  const head = useRef<HTMLHeadingElement>(null);
  useOpened(id === "new" ? id : undefined, head);

  if (id !== "new") {
    return (
      <RecordPanel
        key={id}
        description={description}
        series={series}
        id={id}
        editing={search.edit === "yes" && may}
        may={may}
        lookup={lookup}
        onEdit={edit}
        onClose={close}
        below={below}
      />
    );
  }
  return (
    <>
      <div className={styles.panelHead}>
        <h2 ref={head} tabIndex={-1}>
          New {description.one}
        </h2>
      </div>
      <RecordForm
        description={description}
        record={null}
        start={startingValues}
        lookup={lookup}
        series={series}
        save={(body) => changes.save.mutateAsync({ body })}
        onSaved={(saved) => {
          const made = saved as SavedRecord;
          toasts.offerUndo(
            "Saved.",
            async () => {
              await changes.remove.mutateAsync(made);
              if (shownNow() === made.id) close();
            },
            { undone: "It was taken out again.", about: made.id },
          );
          go({ record: made.id, edit: undefined }, true);
        }}
        onCancel={() => go({ record: undefined, edit: undefined })}
      />
    </>
  );
}
