// What needs attention, soonest first: each a sentence with its date, leading to its place.
import { Link } from "@tanstack/react-router";
import type { Attention } from "../../api/today";
import { inSeries } from "../../app/areas";
import type { PageSearch } from "../../app/search";
import { StateBar } from "../../ui/State";
import { daysBetween, showDeadline, showDistance, today } from "../../words/dates";
import type { Pattern } from "../../words/states";
import styles from "./today.module.css";

const places: Record<string, string> = {
  deliverable: "delivery/deliverables",
  licence: "clearance/licences",
  release: "shoot/releases",
  shoot_day: "shoot/days",
  drive: "footage/drives",
  card: "footage/cards",
  element: "clearance/elements",
  person: "shoot/people",
  asset: "clearance/imports",
  music: "clearance/music",
};

export function urgency(due: string | null, now = today()): Pattern {
  if (!due) return "unknown";
  const days = daysBetween(now, due);
  if (days < 0) return "gap";
  return days <= 30 ? "ends_soon" : "none";
}

/** Where a thing is seen to: its record; for what an episode is not cleared of, its elements. */
function placeOf(item: Attention): { to: string; search: PageSearch } {
  const episode = item.episode_id ?? undefined;
  if (item.subject_kind === "episode") {
    return {
      to: inSeries(item.series_id, "clearance/elements"),
      search: { episode: item.subject_id },
    };
  }
  if (item.subject_kind === "equal_terms") {
    return { to: inSeries(item.series_id, "clearance/costs"), search: { episode } };
  }
  return {
    to: inSeries(item.series_id, places[item.subject_kind] ?? ""),
    search: { record: item.subject_id, episode },
  };
}

export function AttentionList({
  items,
  showSeries,
}: {
  items: readonly Attention[];
  showSeries: boolean;
}) {
  return (
    <ol className={styles.attention}>
      {items.map((item) => (
        <li key={`${item.subject_kind}${item.subject_id}${item.due_on}${item.words}`}>
          <StateBar pattern={urgency(item.due_on)} />
          <span className={styles.when}>
            {item.due_on ? (
              <>
                <time dateTime={item.due_on}>{showDeadline(item.due_on)}</time>
                <span className="quiet">{showDistance(item.due_on)}</span>
              </>
            ) : (
              <span className="quiet">no date</span>
            )}
          </span>
          <span className={styles.what}>
            <Link {...placeOf(item)}>{item.words}</Link>
            {showSeries && <span className="quiet"> {item.series_title}</span>}
          </span>
        </li>
      ))}
    </ol>
  );
}
