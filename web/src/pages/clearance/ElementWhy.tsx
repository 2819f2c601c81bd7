// Why an element stands as it does: every reason with its rule, the cells that it was measured in, what was assumed.
import { Button } from "@mantine/core";
import { Link } from "@tanstack/react-router";
import { Fragment, type ReactNode, useRef } from "react";
import {
  type Behind,
  type CellGroup,
  type Days,
  type ElementAnswer,
  type End,
  elementStates,
  type PaperHolds,
  type ReasonAnswer,
} from "../../api/clearance";
import { useRecord } from "../../api/records";
import { inSeries } from "../../app/areas";
import { useKey } from "../../app/keys";
import { useMay } from "../../app/may";
import { usePageSearch, useSeriesId } from "../../app/series";
import { Caution } from "../../ui/Notes";
import { useOpened } from "../../ui/record/focus";
import { useGo } from "../../ui/record/RecordsPage";
import recordStyles from "../../ui/record/record.module.css";
import { Scroll } from "../../ui/Scroll";
import { Stated, StateWord } from "../../ui/State";
import { wholeWords } from "../../words/amounts";
import { elementCautions } from "../../words/cautions";
import { daysBetween, showDate } from "../../words/dates";
import { ruleWords } from "../../words/rules";
import { assetClasses, type Pattern } from "../../words/states";
import styles from "./clearance.module.css";

export function ElementWhy({ element }: { element: ElementAnswer }) {
  const go = useGo();
  const head = useRef<HTMLHeadingElement>(null);
  const ground = useGround(element);
  const close = () => go({ record: undefined });
  useKey("Escape", close);
  useOpened(element.id, head);
  return (
    <>
      <div className={recordStyles.panelHead}>
        <h2 ref={head} tabIndex={-1}>
          {element.label}
        </h2>
        <Button variant="default" size="compact-sm" onClick={close} className="no-print">
          Close
        </Button>
      </div>
      <p>
        <StateWord words={elementStates} value={element.state} />
      </p>
      <p className="quiet">
        {sentenceStart(kindWords(element.kind))}; used{" "}
        {element.uses === 1 ? "once" : `${wholeWords(element.uses)} times`}. {endWords(element.end)}
        {element.provisional && " This rests on a planned date and may change."}
      </p>
      <OnStrip element={element} />
      {element.reasons.length > 0 ? (
        <>
          <h3>Reasons</h3>
          <ul className={styles.reasons}>
            {element.reasons.map((reason) => (
              <ReasonLine
                key={`${reason.code}${reason.sentence}`}
                reason={reason}
                element={element}
              />
            ))}
          </ul>
        </>
      ) : (
        <p>Nothing stands against it.</p>
      )}
      {element.behind.length > 0 && <BehindIt element={element} />}
      <h3>Where it was measured</h3>
      <Cells cells={element.cells} />
      {element.assumptions.length > 0 && (
        <>
          <h3>Assumed</h3>
          <ul>
            {element.assumptions.map((assumption) => (
              <li key={assumption}>{assumption}</li>
            ))}
          </ul>
        </>
      )}
      {elementCautions(
        element.kind,
        element.reasons.map((reason) => reason.code),
        ground,
      ).map((caution) => (
        <Caution key={caution}>{caution}</Caution>
      ))}
    </>
  );
}

/** The ground that an import's record names; undefined for what has none, and where the record is not for the reader. */
function useGround(element: ElementAnswer): string | undefined {
  const may = useMay("view_licences");
  const isImport = may && assetClasses.some(({ value }) => value === element.kind);
  const record = useRecord(useSeriesId(), "assets", isImport ? element.id : undefined);
  return isImport && record.data ? String(record.data.basis) : undefined;
}

const kinds: Record<string, string> = {
  person: "person",
  place: "place",
  artwork: "artwork",
  brand: "brand or logo",
  music: "music",
  asset: "import",
  unlogged_footage: "footage that nobody logged",
  unknown_source: "source that matches nothing in the catalogue",
};

const kindWords = (kind: string) =>
  kinds[kind] ?? assetClasses.find((one) => one.value === kind)?.word ?? kind.replaceAll("_", " ");

const sentenceStart = (words: string) => words.charAt(0).toUpperCase() + words.slice(1);

/** To the first event that uses it, where an unknown source can be matched by hand. */
function OnStrip({ element }: { element: ElementAnswer }) {
  const series = useSeriesId();
  const { episode, cut, spec } = usePageSearch();
  if (!element.first_use) return null;
  return (
    <p className="no-print">
      <Link
        to="/s/$series/cut/strip"
        params={{ series }}
        search={{ episode, cut, spec, record: String(element.first_use.event) }}
      >
        Its first use on the strip
      </Link>
    </p>
  );
}

const holdWords: Record<PaperHolds, [string, Pattern]> = {
  yes: ["holds", "covered"],
  not_here: ["reaches nothing that is needed here", "gap"],
  unknown: ["whether it holds is unknown", "unknown"],
  no: ["does not hold", "gap"],
};

/** The papers and grounds by name, each with what it is worth by itself. */
function BehindIt({ element }: { element: ElementAnswer }) {
  return (
    <>
      <h3>Papers and grounds</h3>
      <ul className={styles.reasons} aria-label="Papers and grounds">
        {element.behind.map((one) => {
          const [word, pattern] = holdWords[one.holds];
          return (
            <li key={`${one.paper_id}${one.name}`}>
              <PaperLink element={element} paper={one}>
                {one.name}
              </PaperLink>{" "}
              <Stated pattern={pattern}>{word}</Stated>
            </li>
          );
        })}
      </ul>
    </>
  );
}

/** To the paper itself; of a ground, to the record of the import or the music that states it. */
function PaperLink(props: {
  element: ElementAnswer;
  paper: Pick<Behind, "kind" | "paper_id">;
  children: ReactNode;
}) {
  const series = useSeriesId();
  const { element, paper } = props;
  const record = paper.paper_id ?? element.id;
  const place = paper.paper_id
    ? { release: "shoot/releases", licence: "clearance/licences" }[String(paper.kind)]
    : groundPlace(element.kind);
  if (!place) return props.children;
  return (
    <Link to={inSeries(series, place)} search={{ record }}>
      {props.children}
    </Link>
  );
}

/** A notice, or a decision on a person or place, is a release that is not named. */
function groundPlace(kind: string): string | undefined {
  if (kind === "music") return "clearance/music";
  return ["person", "place"].includes(kind) ? undefined : "clearance/imports";
}

const weights: Record<ReasonAnswer["weight"], Pattern> = {
  fails: "gap",
  unknown: "unknown",
  shown: "restricted",
};

function ReasonLine({ reason, element }: { reason: ReasonAnswer; element: ElementAnswer }) {
  const series = useSeriesId();
  const { episode, cut, spec } = usePageSearch();
  const paper = element.behind.find((one) => one.paper_id && one.paper_id === reason.paper_id);
  const rule = ruleWords(reason.rule);
  const { events } = reason;
  return (
    <li>
      <Stated pattern={weights[reason.weight]}>{reason.sentence}</Stated>
      {reason.action && <p>{reason.action}</p>}
      {(events.length > 0 || paper) && (
        <p className={`${styles.said} quiet small`}>
          {/* Its place in the cut: the number that the edit list gives it may be another. */}
          {events.length > 0 && (events.length === 1 ? "row " : "rows ")}
          {events.map((event, at) => (
            <Fragment key={event}>
              {at > 0 && ", "}
              <Link
                to="/s/$series/cut/strip"
                params={{ series }}
                search={{ episode, cut, spec, record: String(event) }}
                aria-label={`Row ${event} of the strip`}
              >
                {event}
              </Link>
            </Fragment>
          ))}
          {events.length > 0 && " of the strip"}
          {paper && (
            <>
              {events.length > 0 && "; "}
              <PaperLink element={element} paper={paper}>
                the paper
              </PaperLink>
            </>
          )}
        </p>
      )}
      {rule && (
        <details className={`${styles.rule} quiet small`}>
          <summary>Rule {reason.rule}</summary>
          <p>{rule}</p>
        </details>
      )}
      {reason.rule && !rule && <p className="quiet small">Rule {reason.rule}</p>}
    </li>
  );
}

const cellWords: Record<CellGroup["state"], [string, Pattern]> = {
  none: ["not cleared", "gap"],
  partial: ["cleared in part", "gap"],
  unknown: ["unknown", "unknown"],
  covered: ["covered", "covered"],
};

function Cells({ cells }: { cells: readonly CellGroup[] }) {
  return (
    <Scroll label="Where it was measured">
      <table className={styles.table}>
        <caption className="visually-hidden">Territories and media with their states</caption>
        <thead>
          <tr>
            <th scope="col">Where</th>
            <th scope="col">Media</th>
            <th scope="col">State</th>
          </tr>
        </thead>
        <tbody>
          {cells.map((cell) => {
            const [word, pattern] = cellWords[cell.state];
            return (
              <tr key={`${cell.place}${cell.media_words}`}>
                <td>{cell.place}</td>
                <td>{cell.media_words}</td>
                <td>
                  <Stated pattern={pattern}>{word}</Stated>
                  {cell.gaps.map((days) => (
                    <div key={days.from} className="small">
                      missing {daysWords(days)}
                    </div>
                  ))}
                  {cell.unknown.map((days) => (
                    <div key={days.from} className="small">
                      not known {daysWords(days)}
                    </div>
                  ))}
                </td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </Scroll>
  );
}

/** `1 Oct 2028 to 30 Sep 2029 (365 days)`. */
export function daysWords({ from, to }: Days): string {
  const count = daysBetween(from, to) + 1;
  if (count === 1) return `${showDate(from)} (1 day)`;
  return `${showDate(from)} to ${showDate(to)} (${wholeWords(count)} days)`;
}

export function endWords(end: End): string {
  switch (end.kind) {
    case "on":
      return `May be shown until ${showDate(end.date)} in every needed place.`;
    case "open":
      return "May be shown without end in every needed place.";
    case "unknown":
      return "Until when it may be shown is not known.";
    case "not_cleared":
      return "It may not be shown in every needed place on the first needed day.";
  }
}
