// Finding files in the catalogue, and saying who and what is in them, for many at once.
import { Button, Checkbox, Select, TextInput } from "@mantine/core";
import { useInfiniteQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useState } from "react";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useMay } from "../../app/may";
import type { PageSearch } from "../../app/search";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useLookup } from "../../ui/record/lookup";
import { useGo } from "../../ui/record/RecordsPage";
import recordStyles from "../../ui/record/record.module.css";
import { ScanCommand } from "../../ui/ScanCommand";
import { StateBar } from "../../ui/State";
import { TakeTable } from "../../ui/TakeTable";
import { showDate, showLength } from "../../words/dates";
import { loggedWords, patternFor, type Word, wordFor } from "../../words/states";
import { framesToSeconds, readRate } from "../../words/timecode";
import { FilePanel } from "./FilePanel";
import styles from "./footage.module.css";
import { LogBar } from "./LogBar";

type FileItem = components["schemas"]["FileItem"];

export function Find() {
  const series = useSeries();
  return (
    <Page
      title="Find and log"
      place={series?.title}
      lead="Say who and what is in the footage. What nobody logged is a gap, not an empty shot."
    >
      <Files />
    </Page>
  );
}

const kinds: readonly Word[] = [
  { value: "picture", word: "picture" },
  { value: "sound", word: "sound" },
  { value: "other", word: "other files" },
];

function queryOf(search: PageSearch) {
  const { q, card, drive, day, logged, kind, person } = search;
  return {
    ...(q && { q }),
    ...(card && { card }),
    ...(drive && { drive }),
    ...(day && { day }),
    ...(person && { person }),
    ...(logged && { logged: logged as components["schemas"]["Logged"] }),
    ...(kind && { kind: kind as components["schemas"]["FileKind"] }),
  };
}

function useFiles() {
  const series = useSeriesId();
  const query = queryOf(usePageSearch());
  return useInfiniteQuery({
    queryKey: ["series", series, "files", query],
    queryFn: ({ pageParam, signal }) =>
      answered(
        api.GET("/api/series/{series}/files", {
          params: {
            path: { series },
            query: { ...query, limit: 100, ...(pageParam && { after: pageParam }) },
          },
          signal,
        }),
      ),
    initialPageParam: null as string | null,
    getNextPageParam: (last) => last.next,
    placeholderData: (before) => before,
  });
}

function Files() {
  const search = usePageSearch();
  const files = useFiles();
  const mayLog = useMay("log_footage");
  const [picked, setPicked] = useState<ReadonlySet<string>>(new Set());
  const items = files.data?.pages.flatMap((page) => page.items) ?? [];
  const total = files.data?.pages[0]?.total ?? null;
  const filtered = Object.keys(queryOf(search)).length > 0;
  if (files.error) return <ErrorNote error={files.error} retry={() => files.refetch()} />;
  if (!files.data) return <Waiting what="the files" />;
  if (items.length === 0 && !filtered) {
    return (
      <EmptyState title="No files yet.">
        <ScanCommand />
      </EmptyState>
    );
  }
  return (
    <>
      <Filters shown={items.length} total={total} />
      {mayLog && picked.size > 0 && (
        <LogBar fileIds={[...picked]} onDone={() => setPicked(new Set())} />
      )}
      <div className={recordStyles.split} data-open={search.record ? true : undefined}>
        <div className={recordStyles.list}>
          <FileTable items={items} picked={picked} setPicked={setPicked} mayLog={mayLog} />
          {items.length === 0 && <p className="quiet">No file fits.</p>}
          {files.hasNextPage && (
            <Button
              variant="default"
              mt="md"
              loading={files.isFetchingNextPage}
              onClick={() => files.fetchNextPage()}
            >
              Show more
            </Button>
          )}
        </div>
        {search.record && (
          <section className={recordStyles.beside} aria-label="The open file">
            <FilePanel key={search.record} id={search.record} />
          </section>
        )}
      </div>
    </>
  );
}

function Filters({ shown, total }: { shown: number; total: number | null }) {
  const series = useSeriesId();
  const search = usePageSearch();
  const go = useGo();
  const lookup = useLookup(series, ["shoot-days", "drives", "cards"]);
  const set = (name: string) => (value: string | null) => go({ [name]: value ?? undefined }, true);
  const select = (name: string, label: string, data: { value: string; label: string }[]) => (
    <Select
      aria-label={label}
      placeholder={label}
      data={data}
      value={search[name] ?? null}
      searchable={data.length > 10}
      clearable
      clearButtonProps={{ "aria-label": `Any: ${label}` }}
      onChange={set(name)}
    />
  );
  const words = (list: readonly Word[]) => list.map(({ value, word }) => ({ value, label: word }));
  return (
    <search className={`${styles.filters} no-print`}>
      <TextInput
        data-find
        aria-label="Find files"
        placeholder="Find by name, card, folder or reel"
        value={search.q ?? ""}
        onChange={(event) => go({ q: event.currentTarget.value || undefined }, true)}
      />
      {select("logged", "logged or not", words(loggedWords))}
      {select("kind", "picture or sound", words(kinds))}
      {select("day", "any shoot day", lookup.choices("shoot-days"))}
      {select("card", "any card", lookup.choices("cards"))}
      {select("drive", "any drive", lookup.choices("drives"))}
      <output className={styles.count}>
        {total === null || total === shown
          ? `${shown} files`
          : `${shown} of ${total > 1000 ? "more than 1,000" : total}`}
      </output>
    </search>
  );
}

function FileTable({
  items,
  picked,
  setPicked,
  mayLog,
}: {
  items: readonly FileItem[];
  picked: ReadonlySet<string>;
  setPicked: (picked: ReadonlySet<string>) => void;
  mayLog: boolean;
}) {
  const { record } = usePageSearch();
  const [last, setLast] = useState<number | null>(null);
  const pick = (index: number, on: boolean, range: boolean) => {
    const next = new Set(picked);
    const from = range && last !== null ? Math.min(last, index) : index;
    const to = range && last !== null ? Math.max(last, index) : index;
    for (const item of items.slice(from, to + 1)) {
      if (on) next.add(item.id);
      else next.delete(item.id);
    }
    setLast(index);
    setPicked(next);
  };
  const all = items.length > 0 && items.every((item) => picked.has(item.id));
  return (
    <TakeTable name="files">
      <div className={styles.scroll}>
        <table className={styles.table}>
          <caption className="visually-hidden">Files of the catalogue</caption>
          <thead>
            <tr>
              {mayLog && (
                <th scope="col">
                  <Checkbox
                    aria-label="Choose all that are shown"
                    checked={all}
                    indeterminate={!all && picked.size > 0}
                    onChange={() => setPicked(all ? new Set() : new Set(items.map(({ id }) => id)))}
                  />
                </th>
              )}
              <th scope="col">File</th>
              <th scope="col">Log</th>
              {!record && (
                <>
                  <th scope="col" className={styles.wide}>
                    Card
                  </th>
                  <th scope="col" className={styles.wide}>
                    Shot on
                  </th>
                  <th scope="col" className={styles.wide}>
                    Starts at
                  </th>
                  <th scope="col" className={styles.wide}>
                    Length
                  </th>
                  <th scope="col" className={styles.wide}>
                    Copies
                  </th>
                </>
              )}
            </tr>
          </thead>
          <tbody>
            {items.map((item, index) => (
              <tr key={item.id} data-selected={item.id === record || undefined}>
                {mayLog && (
                  <td className={styles.pick}>
                    <Checkbox
                      aria-label={`Choose ${item.name}`}
                      checked={picked.has(item.id)}
                      onChange={() => {}}
                      onClick={(event) => pick(index, !picked.has(item.id), event.shiftKey)}
                    />
                  </td>
                )}
                <td>
                  <span className={styles.file}>
                    <StateBar pattern={patternFor(loggedWords, item.logged)} />
                    <Link
                      to="."
                      search={(search) => ({ ...search, record: item.id })}
                      resetScroll={false}
                    >
                      {item.name}
                    </Link>
                  </span>
                </td>
                <td>{wordFor(loggedWords, item.logged)}</td>
                {!record && <FileFacts item={item} />}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </TakeTable>
  );
}

function FileFacts({ item }: { item: FileItem }) {
  const rate = item.rate ? readRate(item.rate) : null;
  const good = item.copies.filter((copy) => copy.state === "verified").length;
  return (
    <>
      <td className={styles.wide}>{item.card}</td>
      <td className={styles.wide}>{showDate(item.shot_on)}</td>
      <td className={styles.wide}>{item.start}</td>
      <td className={styles.wide}>
        {item.frame_count !== null && rate
          ? showLength(framesToSeconds(item.frame_count, rate))
          : ""}
      </td>
      <td className={styles.wide}>
        {good} of {item.copies.length} verified
      </td>
    </>
  );
}
