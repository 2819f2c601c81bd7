// A cut as a strip: every event over time, filled with the pattern of its worst state; its table below;
// the chosen event beside it.

import { useQuery } from "@tanstack/react-query";
import { useState } from "react";
import { blocks } from "../../api/blocks";
import { elementStates } from "../../api/clearance";
import { answered, api } from "../../api/client";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import recordStyles from "../../ui/record/record.module.css";
import { Stated } from "../../ui/State";
import { type Chosen, CutAndSpec } from "../clearance/CutAndSpec";
import { EventPanel } from "./EventPanel";
import { EventTable } from "./EventTable";
import { type CutEvent, stateOf } from "./events";
import { StripDrawing } from "./StripDrawing";
import styles from "./strip.module.css";

export function Strip() {
  const series = useSeries();
  return (
    <Page
      title="Strip"
      place={series?.title}
      lead="The cut from its first frame to its last, each event by its worst state."
    >
      <CutAndSpec>{(chosen) => <OneStrip {...chosen} />}</CutAndSpec>
    </Page>
  );
}

function OneStrip({ cut, spec }: Chosen) {
  const series = useSeriesId();
  const search = usePageSearch();
  const query = useQuery({
    queryKey: ["series", series, "events", cut.id, spec],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/cuts/{cut}/events", {
          params: { path: { series, cut: cut.id }, query: { spec } },
          signal,
        }),
      ),
  });
  const [zoom, setZoom] = useState(1);
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the events of this cut" />;
  const events = query.data.items;
  if (events.length === 0) {
    return (
      <EmptyState title="This cut has no events.">
        The list that was imported is empty. Import it again from the edit.
      </EmptyState>
    );
  }
  const open = events.find((event) => String(event.position) === search.record);
  const shown = events.filter((event) => !search.state || stateOf(event) === search.state);
  return (
    <>
      <StripDrawing cut={cut} events={events} selected={open?.position} zoom={zoom} />
      <div className={`${styles.under} no-print`}>
        <Key events={events} />
        <label className={styles.zoom}>
          Width{" "}
          <select value={zoom} onChange={(event) => setZoom(Number(event.currentTarget.value))}>
            {[1, 2, 4, 8, 16].map((times) => (
              <option key={times} value={times}>
                {times === 1 ? "whole cut" : `${times} times`}
              </option>
            ))}
          </select>
        </label>
      </div>
      <div className={recordStyles.split} data-open={open ? true : undefined}>
        <div className={recordStyles.list}>
          <EventTable events={shown} selected={open?.position} />
        </div>
        {open && (
          <section className={recordStyles.beside} aria-label="The chosen event">
            <EventPanel key={open.position} event={open} cut={cut} />
          </section>
        )}
      </div>
    </>
  );
}

/** What the patterns mean, with how many events have each. */
function Key({ events }: { events: readonly CutEvent[] }) {
  const count = (state: string) => events.filter((event) => stateOf(event) === state).length;
  return (
    <div className={styles.key}>
      {elementStates
        .filter(({ value }) => count(value) > 0)
        .map(({ value, word, pattern }) => (
          <Stated key={value} pattern={pattern}>
            {count(value)} {word}
          </Stated>
        ))}
    </div>
  );
}
