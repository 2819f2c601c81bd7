// What narrows a search and has no field of its own, each to be taken away.
import { Button } from "@mantine/core";
import { usePageSearch, useSeriesId } from "../../app/series";
import { useLookup } from "../../ui/record/lookup";
import { useGo } from "../../ui/record/RecordsPage";
import { showDate } from "../../words/dates";
import { filters } from "./finding";
import styles from "./footage.module.css";

export function FindNarrowed() {
  const series = useSeriesId();
  const search = usePageSearch();
  const go = useGo();
  const lookup = useLookup(series, [
    ...(search.asset ? (["assets"] as const) : []),
    ...(search.music ? (["music"] as const) : []),
  ]);
  const words: Partial<Record<(typeof filters)[number], (value: string) => string>> = {
    on: (day) => `Shot on ${showDate(day)}`,
    camera: (camera) => `Camera ${camera}`,
    asset: (id) => lookup.name("assets", id),
    music: (id) => lookup.name("music", id),
  };
  const chosen = filters.flatMap((name) => {
    const said = search[name] && words[name]?.(search[name]);
    return said ? [{ name, said }] : [];
  });
  if (chosen.length === 0) return null;
  return (
    <p className={styles.meant}>
      {chosen.map(({ name, said }) => (
        <Button
          key={name}
          variant="default"
          size="compact-sm"
          aria-label={`Any, not only: ${said}`}
          rightSection={<span aria-hidden>×</span>}
          onClick={() => go({ [name]: undefined }, true)}
        >
          {said}
        </Button>
      ))}
    </p>
  );
}
