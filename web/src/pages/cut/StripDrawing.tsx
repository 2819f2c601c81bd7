// The drawing: one lane a track, events to scale. One tab stop; arrows go from event to event, Enter opens.
import { useRef } from "react";
import type { Cut } from "../../api/clearance";
import { useGo } from "../../ui/record/RecordsPage";
import { readRate, showTimecode } from "../../words/timecode";
import { type CutEvent, nameOf, patternOf } from "./events";
import styles from "./strip.module.css";

export function StripDrawing({
  cut,
  events,
  selected,
  zoom,
}: {
  cut: Cut;
  events: readonly CutEvent[];
  selected: number | undefined;
  zoom: number;
}) {
  const go = useGo();
  const box = useRef<HTMLDivElement>(null);
  const start = cut.start_frame;
  const length = Math.max(1, cut.duration_frames);
  const at = (frame: number) => (100 * (frame - start)) / length;
  const lanes = lanesOf(events);
  const first = selected ?? events[0]?.position;

  const move = (event: React.KeyboardEvent) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const all = [...(box.current?.querySelectorAll<HTMLElement>("button") ?? [])].toSorted(
      (a, b) => Number(a.dataset.position) - Number(b.dataset.position),
    );
    const next = all[all.indexOf(document.activeElement as HTMLElement) + step];
    if (!next) return;
    event.preventDefault();
    next.focus();
    next.scrollIntoView({ block: "nearest", inline: "nearest" });
  };

  return (
    // biome-ignore lint/a11y/noStaticElementInteractions: arrow keys go between the buttons inside
    <div className={styles.scroll} ref={box} onKeyDown={move}>
      <div className={styles.strip} style={{ "--zoom": zoom } as React.CSSProperties}>
        <Scenes events={events} at={at} />
        {[...lanes].map(([track, inLane]) => (
          <div key={track} className={styles.lane}>
            <span className={styles.track}>{track}</span>
            <div className={styles.events}>
              {inLane.map((event) => (
                <button
                  key={event.position}
                  type="button"
                  data-position={event.position}
                  data-pattern={patternOf(event)}
                  data-wide
                  className={`pattern ${styles.event}`}
                  style={{
                    // The last event is at least as wide as it can be seen, and ends with the strip.
                    left: `min(${at(event.record_in_frame)}%, 100% - 3px)`,
                    width: `${(100 * (event.record_out_frame - event.record_in_frame)) / length}%`,
                  }}
                  tabIndex={event.position === first ? 0 : -1}
                  aria-pressed={event.position === selected}
                  aria-label={`Event ${event.event || event.position}, ${event.record_in} to ${event.record_out}, ${nameOf(event)}: ${event.words}`}
                  title={`${event.record_in}  ${nameOf(event)}: ${event.words}`}
                  onClick={() =>
                    go({ record: event.position === selected ? undefined : String(event.position) })
                  }
                />
              ))}
            </div>
          </div>
        ))}
        <Ruler cut={cut} zoom={zoom} />
      </div>
    </div>
  );
}

/** Pictures in the order in which they first appear, then sound by its number. */
function lanesOf(events: readonly CutEvent[]): Map<string, CutEvent[]> {
  const lanes = new Map<string, CutEvent[]>();
  for (const picture of [true, false]) {
    const found = events.filter((one) => one.picture === picture);
    const named = found.map((event) => ({ event, track: event.track || (picture ? "V" : "A") }));
    if (!picture) {
      named.sort((a, b) => a.track.localeCompare(b.track, "en-GB", { numeric: true }));
    }
    for (const { event, track } of named) {
      lanes.set(track, [...(lanes.get(track) ?? []), event]);
    }
  }
  return lanes;
}

function Scenes({ events, at }: { events: readonly CutEvent[]; at: (frame: number) => number }) {
  const spans = new Map<string, { title: string; from: number; to: number }>();
  for (const { scene, record_in_frame, record_out_frame } of events) {
    if (!scene) continue;
    const span = spans.get(scene.id);
    spans.set(scene.id, {
      title: scene.title,
      from: Math.min(span?.from ?? record_in_frame, record_in_frame),
      to: Math.max(span?.to ?? record_out_frame, record_out_frame),
    });
  }
  if (spans.size === 0) return null;
  return (
    <div className={styles.scenes}>
      {[...spans].map(([id, { title, from, to }]) => (
        <span
          key={id}
          className={styles.scene}
          style={{ left: `${at(from)}%`, width: `${at(to) - at(from)}%` }}
          title={title}
        >
          {title}
        </span>
      ))}
    </div>
  );
}

function Ruler({ cut, zoom }: { cut: Cut; zoom: number }) {
  const rate = readRate(cut.rate);
  if (!rate) return null;
  const parts = 6 * zoom;
  return (
    <div className={styles.ruler} aria-hidden="true">
      {Array.from({ length: parts }, (_, index) => {
        const frame = cut.start_frame + Math.round((cut.duration_frames * index) / parts);
        return (
          <span key={frame} style={{ left: `${(100 * index) / parts}%` }}>
            {showTimecode(frame, rate)}
          </span>
        );
      })}
    </div>
  );
}
