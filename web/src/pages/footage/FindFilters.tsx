// What a search is narrowed by: typed words, chosen filters, and what the hits have in common.
import { Button, MultiSelect, Select, TextInput } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { useEffect, useState } from "react";
import { answered, api } from "../../api/client";
import type { PageSearch } from "../../app/search";
import { usePageSearch, useSeriesId } from "../../app/series";
import { useLookup } from "../../ui/record/lookup";
import { useGo } from "../../ui/record/RecordsPage";
import { wholeWords } from "../../words/amounts";
import { showDate } from "../../words/dates";
import { loggedWords, type Word, wordFor } from "../../words/states";
import { FindNarrowed } from "./FindNarrowed";
import {
  type Facet,
  type FilterName,
  fileKinds,
  isDigest,
  type Meant,
  noDigest,
  peopleOf,
  queryOf,
  ranks,
  shotKinds,
  withoutWords,
} from "./finding";
import styles from "./footage.module.css";

const data = (list: readonly Word[]) => list.map(({ value, word }) => ({ value, label: word }));

/** `stale`: the count is of what was looked for before. */
export function FindFilters({ count, stale }: { count: string; stale: boolean }) {
  const series = useSeriesId();
  const search = usePageSearch();
  const go = useGo();
  const lookup = useLookup(series, ["shoot-days", "drives", "cards", "people", "places"]);
  // What is asked for is seen; and nothing closes under who empties a field.
  const narrowed = isNarrowed(search);
  const [more, setMore] = useState(narrowed);
  useEffect(() => {
    if (narrowed) setMore(true);
  }, [narrowed]);
  const select = (
    name: FilterName,
    label: string,
    choices: { value: string; label: string }[],
    title?: string,
  ) => (
    <Select
      {...(title ? { label: title } : { "aria-label": label })}
      placeholder={label}
      data={choices}
      value={search[name] ?? null}
      searchable={choices.length > 10}
      limit={200}
      clearable
      clearButtonProps={{ "aria-label": `Any: ${label}` }}
      onChange={(value) => go({ [name]: value ?? undefined }, true)}
    />
  );
  return (
    <search className="no-print">
      <div className={styles.filters}>
        <Typed name="q" label="Find files" hint="Find by name, folder, roll or reel" find />
        {select("logged", "logged or not", data(loggedWords))}
        {select("kind", "picture or sound", data(fileKinds))}
        {select("day", "any shoot day", lookup.choices("shoot-days"))}
        {select("card", "any card", lookup.choices("cards"))}
        {select("drive", "any drive", lookup.choices("drives"))}
        <output className={styles.count} data-stale={stale || undefined}>
          {count}
        </output>
      </div>
      <FindNarrowed />
      <details
        className={styles.more}
        open={more}
        onToggle={(event) => setMore(event.currentTarget.open)}
      >
        <summary>More to find by</summary>
        <div className={styles.moreFields}>
          <MultiSelect
            label="People, together in frame"
            placeholder={search.person ? undefined : "anybody"}
            data={lookup.choices("people")}
            value={peopleOf(search)}
            searchable
            clearable
            maxValues={12}
            nothingFoundMessage="Nobody of that name"
            onChange={(people) => go({ person: people.join(",") || undefined }, true)}
          />
          {select("place", "any place", lookup.choices("places"), "Place")}
          {select("rank", "any rank", data(ranks), "Rank")}
          {select("shot", "any kind of shot", data(shotKinds), "Kind of shot")}
          <Typed name="roll" label="Roll or reel" hint="A001" />
          <Typed name="spoken" label="Words that were said" hint="in a transcript" />
          <Typed
            name="timecode"
            label="Running over timecode"
            hint="10:02:15:00"
            whole={(text) => /^\d\d:\d\d:\d\d[:;]\d\d+$/.test(text)}
          />
          <Typed
            name="hash"
            label="Digest"
            hint="xxh128, md5, sha1 …"
            whole={isDigest}
            otherwise={noDigest}
          />
        </div>
      </details>
    </search>
  );
}

const isNarrowed = (search: Record<string, string | undefined>) =>
  ["person", "place", "rank", "shot", "roll", "timecode", "hash", "spoken"].some(
    (name) => search[name],
  );

/**
 * A field whose text goes into the address as one types; only once it is `whole`, where that can be told. What is not
 * is looked for by nothing, and `otherwise` says so.
 */
function Typed({
  name,
  label,
  hint,
  find = false,
  whole,
  otherwise,
}: {
  name: FilterName;
  label: string;
  hint: string;
  find?: boolean;
  whole?: (text: string) => boolean;
  otherwise?: (text: string) => string;
}) {
  const search = usePageSearch();
  const go = useGo();
  const here = search[name] ?? "";
  const [typed, setTyped] = useState(here);
  useEffect(() => setTyped(here), [here]);
  const change = (text: string) => {
    setTyped(text);
    if (!whole || text.trim() === "" || whole(text.trim())) {
      go({ [name]: text || undefined }, true);
    }
  };
  const unfit = typed.trim() !== "" && whole && !whole(typed.trim());
  return (
    <TextInput
      {...(find ? { "data-find": true, "aria-label": label } : { label })}
      placeholder={hint}
      value={typed}
      // what stands in the address was asked for, and the answer above the files says what is amiss
      error={unfit && (typed === here || otherwise?.(typed.trim()))}
      onChange={(event) => change(event.currentTarget.value)}
      onKeyDown={(event) => {
        if (!find || event.key !== "ArrowDown") return;
        event.preventDefault();
        document.querySelector<HTMLElement>("[data-hit] a")?.focus();
      }}
    />
  );
}

const groups: readonly [filter: FilterName, title: string, words?: readonly Word[]][] = [
  ["on", "Shot on"],
  ["camera", "Camera"],
  ["card", "Card"],
  ["drive", "Drive"],
  ["person", "Who"],
  ["place", "Place"],
  ["shot", "Kind of shot", shotKinds],
  ["rank", "Rank", ranks],
  ["kind", "Picture or sound", fileKinds],
];

/** So many records that are called so are offered at once: on a phone the hits are to be in sight. */
const FEW = 3;

/** Records whose names have the typed words; one click asks for the record instead of the words. */
function CalledSo({ meant, choose }: { meant: readonly Meant[]; choose: (one: Meant) => void }) {
  const [all, setAll] = useState(false);
  if (meant.length === 0) return null;
  const more = all ? 0 : Math.max(0, meant.length - FEW);
  return (
    <p className={styles.meant}>
      <span className="quiet">Called so:</span>
      {meant.slice(0, meant.length - more).map((one) => (
        <Button
          key={`${one.filter}${one.value}`}
          variant="default"
          size="compact-sm"
          onClick={() => choose(one)}
        >
          {one.words}, {meantWords[one.filter] ?? one.filter}
        </Button>
      ))}
      {more > 0 && (
        <Button variant="subtle" size="compact-sm" onClick={() => setAll(true)}>
          {more} more
        </Button>
      )}
    </p>
  );
}

/** What the files that fit have in common, each with its count; one click narrows the search. */
export function Facets() {
  const series = useSeriesId();
  const search = usePageSearch();
  const go = useGo();
  const query = queryOf(search);
  const facets = useQuery({
    queryKey: ["series", series, "files", "facets", query],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/file-facets", {
          params: { path: { series }, query },
          signal,
        }),
      ),
    placeholderData: (before) => before,
  });
  const told = facets.data;
  if (!told) return null;
  const asked = ({ filter, value }: { filter: string; value: string }) =>
    (search[filter] ?? "").split(",").includes(value);
  const narrow = (filter: string, value: string, also: PageSearch = {}) => {
    const before = filter === "person" ? peopleOf(search) : [];
    go({ [filter]: [...before, value].join(","), ...also }, true);
  };
  const meant = told.meant.filter((one) => !asked(one));
  const common = told.facets.filter((one) => !asked(one));
  return (
    <div className="no-print">
      <CalledSo
        key={search.q}
        meant={meant}
        choose={({ filter, value, words }) =>
          narrow(filter, value, { q: withoutWords(search.q, words) })
        }
      />
      {told.counted > 1 && common.length > 0 && (
        <details className={styles.more}>
          <summary>
            What{" "}
            {told.complete ? "these files" : `the first ${wholeWords(told.counted)} of these files`}{" "}
            have in common
          </summary>
          <div className={styles.facets}>
            {groups.map(([filter, title, words]) => (
              <FacetGroup
                key={filter}
                title={title}
                facets={common.filter((facet) => facet.filter === filter)}
                show={(facet) => facetWords(facet, words)}
                choose={(facet) => narrow(filter, facet.value)}
              />
            ))}
          </div>
        </details>
      )}
    </div>
  );
}

const meantWords: Record<string, string> = {
  person: "a person",
  place: "a place",
  drive: "a drive",
  card: "a card",
};

function facetWords(facet: Facet, words?: readonly Word[]): string {
  if (facet.filter === "on") return showDate(facet.value);
  return words ? wordFor(words, facet.value) : facet.words;
}

function FacetGroup({
  title,
  facets,
  show,
  choose,
}: {
  title: string;
  facets: readonly Facet[];
  show: (facet: Facet) => string;
  choose: (facet: Facet) => void;
}) {
  const [all, setAll] = useState(false);
  if (facets.length === 0) return null;
  return (
    <section>
      <h3>{title}</h3>
      <ul>
        {facets.slice(0, all ? undefined : 6).map((facet) => (
          <li key={facet.value}>
            <button type="button" className={styles.facet} onClick={() => choose(facet)}>
              <span>{show(facet)}</span>
              <span className="quiet">{wholeWords(facet.files)}</span>
            </button>
          </li>
        ))}
      </ul>
      {facets.length > 6 && !all && (
        <button type="button" className={styles.facet} onClick={() => setAll(true)}>
          {facets.length - 6} more
        </button>
      )}
    </section>
  );
}
