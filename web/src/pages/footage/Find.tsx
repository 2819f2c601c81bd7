// Finding files in the catalogue, and saying who and what is in them, for many at once.
import { Button } from "@mantine/core";
import { useInfiniteQuery } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { useMay } from "../../app/may";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useGo } from "../../ui/record/RecordsPage";
import recordStyles from "../../ui/record/record.module.css";
import { ScanCommand } from "../../ui/ScanCommand";
import { FilePanel } from "./FilePanel";
import { Facets, FindFilters } from "./FindFilters";
import { FindTable } from "./FindTable";
import { countWords, queryOf, readAsWords, searchOf } from "./finding";
import styles from "./footage.module.css";
import { LogBar } from "./LogBar";
import { MarkBar } from "./MarkBar";
import { SavedSearches } from "./SavedSearches";
import { TakeOut } from "./TakeOut";

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
    retry: false,
  });
}

function Files() {
  const search = usePageSearch();
  const files = useFiles();
  const [picked, setPicked] = useState<ReadonlySet<string>>(new Set());
  const first = files.data?.pages[0];
  const items = files.data?.pages.flatMap((page) => page.items) ?? [];
  const filtered = Object.keys(queryOf(search)).length > 0;
  // What came for other words is no answer to these; of these themselves it is one, though it may have changed.
  const before = files.isPlaceholderData;
  const stale = before || (files.error !== null && items.length > 0);
  if (!files.data && !files.error) return <Waiting what="the files" />;
  if (!files.error && items.length === 0 && !filtered) {
    return (
      <EmptyState title="No files yet.">
        <ScanCommand />
      </EmptyState>
    );
  }
  return (
    <>
      <div className={recordStyles.above} data-open={search.record ? true : undefined}>
        <FindFilters count={first ? countWords(items.length, first.total) : ""} stale={stale} />
        <ErrorNote error={files.error} retry={() => files.refetch()} />
        {files.error && items.length > 0 && (
          <p role="status">What was found before stands here; it may have changed since.</p>
        )}
        {first && !before && first.read_as.length > 0 && (
          <p role="status">{readAsWords(first.read_as)}</p>
        )}
        {!files.error && <Facets />}
        <Chosen picked={picked} clear={() => setPicked(new Set())} />
      </div>
      <div className={recordStyles.split} data-open={search.record ? true : undefined}>
        <div className={recordStyles.list} data-stale={stale || undefined} aria-busy={before}>
          {items.length > 0 && <FindTable items={items} picked={picked} setPicked={setPicked} />}
          {items.length === 0 && !files.error && !before && (
            <p className="quiet">No file fits. Take a word or a filter away.</p>
          )}
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

/** What can be done with the hits, or with those that are chosen. */
function Chosen({ picked, clear }: { picked: ReadonlySet<string>; clear: () => void }) {
  const mayLog = useMay("log_footage");
  const [marking, setMarking] = useState(false);
  const search = usePageSearch();
  const go = useGo();
  const ids = [...picked];
  return (
    <>
      <div className={`${styles.acts} no-print`}>
        <SavedSearches />
        <TakeOut picked={picked} />
        {Object.keys(queryOf(search)).length > 0 && (
          <Button variant="default" onClick={() => go(searchOf(""), true)}>
            Show all files
          </Button>
        )}
        {mayLog && picked.size > 0 && (
          <Button variant="default" onClick={() => setMarking(!marking)}>
            {marking ? "Log who and what is in them" : "Mark as shots"}
          </Button>
        )}
      </div>
      {mayLog && picked.size > 0 && marking && <MarkBar fileIds={ids} onDone={clear} />}
      {mayLog && picked.size > 0 && !marking && <LogBar fileIds={ids} onDone={clear} />}
    </>
  );
}
