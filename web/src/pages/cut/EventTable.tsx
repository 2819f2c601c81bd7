// The events of a cut as a table, in record order.
import { Link } from "@tanstack/react-router";
import { StateBar } from "../../ui/State";
import { TakeTable } from "../../ui/TakeTable";
import clearance from "../clearance/clearance.module.css";
import { Poster } from "../footage/Pictures";
import styles from "./cut.module.css";
import { type CutEvent, nameOf, patternOf } from "./events";

export function EventTable({
  events,
  selected,
}: {
  events: readonly CutEvent[];
  selected: number | undefined;
}) {
  const pictured = events.some(({ match }) => match.poster);
  return (
    <TakeTable name="events">
      <div className={clearance.scroll}>
        <table className={clearance.table}>
          <caption className="visually-hidden">Events in the order of the cut</caption>
          <thead>
            <tr>
              <th scope="col">In</th>
              <th scope="col">Shows or sounds</th>
              <th scope="col" className={clearance.wide}>
                State
              </th>
              {selected === undefined && (
                <>
                  <th scope="col" className={clearance.wide}>
                    Track
                  </th>
                  <th scope="col" className={clearance.wide}>
                    Source
                  </th>
                  <th scope="col" className={clearance.wide}>
                    Scene
                  </th>
                </>
              )}
            </tr>
          </thead>
          <tbody>
            {events.map((event) => (
              <tr
                key={event.position}
                data-selected={event.position === selected || undefined}
                style={{ contentVisibility: "auto" }}
              >
                <td>
                  <span className={clearance.element}>
                    <StateBar pattern={patternOf(event)} />
                    <Link
                      to="."
                      search={(search) => ({ ...search, record: String(event.position) })}
                      aria-current={event.position === selected ? "true" : undefined}
                      resetScroll={false}
                    >
                      {event.record_in}
                    </Link>
                  </span>
                </td>
                <td>
                  <span className={clearance.element}>
                    {pictured && <Poster src={event.match.poster} name={nameOf(event)} />}
                    <span className={styles.shows}>
                      {nameOf(event)}
                      <span className={`${clearance.narrow} quiet small`}>{event.words}</span>
                    </span>
                  </span>
                </td>
                <td className={clearance.wide}>{event.words}</td>
                {selected === undefined && (
                  <>
                    <td className={clearance.wide}>{event.track}</td>
                    <td className={`${clearance.wide} ${clearance.times}`}>
                      {[event.reel, event.source_in].filter(Boolean).join(", ")}
                    </td>
                    <td className={`${clearance.wide} ${clearance.times}`}>{event.scene?.title}</td>
                  </>
                )}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </TakeTable>
  );
}
