// The way into a new series, shown until it has been walked once.
import { Link } from "@tanstack/react-router";
import { type Kind, useRecords } from "../../api/records";
import { inSeries } from "../../app/areas";
import { useSeriesId } from "../../app/series";
import { StateBar } from "../../ui/State";
import styles from "./today.module.css";

const steps: readonly { kind: Kind; place: string; title: string; text: string }[] = [
  {
    kind: "episodes",
    place: "team/episodes",
    title: "Add the episodes",
    text: "with their planned delivery and transmission; licences start from these dates.",
  },
  {
    kind: "specifications",
    place: "delivery/specifications",
    title: "Say what the delivery needs",
    text: "territories, media and dates. Clearance is measured against it.",
  },
  {
    kind: "shoot-days",
    place: "shoot/days",
    title: "Add the shoot days",
    text: "with their places and the cards that should come back.",
  },
  {
    kind: "people",
    place: "shoot/people",
    title: "Add people and their releases",
    text: "by the name that they want to be credited with; the scan of the form goes with the release.",
  },
  {
    kind: "drives",
    place: "footage/drives",
    title: "Scan a drive",
    text: "with the waybill command; its cards and files then appear by themselves.",
  },
];

export function FirstSteps() {
  const series = useSeriesId();
  const lists = [
    useRecords(series, "episodes"),
    useRecords(series, "specifications"),
    useRecords(series, "shoot-days"),
    useRecords(series, "people"),
    useRecords(series, "drives"),
  ];
  if (lists.some((list) => list.data === undefined)) return null;
  const done = lists.map((list) => (list.data?.length ?? 0) > 0);
  if (done.every(Boolean)) return null;
  return (
    <section>
      <h2>First steps</h2>
      <ol className={styles.steps}>
        {steps.map((step, index) => (
          <li key={step.kind}>
            <StateBar pattern={done[index] ? "covered" : "not_logged"} />
            <span>
              <Link to={inSeries(series, step.place)} search={done[index] ? {} : { record: "new" }}>
                {step.title}
              </Link>{" "}
              {step.text} <span className="quiet">{done[index] ? "Done." : ""}</span>
            </span>
          </li>
        ))}
      </ol>
    </section>
  );
}
