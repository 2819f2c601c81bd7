// Every element of a cut, measured against a delivery, worst first; each opens its reasons beside the list.

import { Button, TextInput } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { blocks } from "../../api/blocks";
import {
  type ClearanceAnswer,
  type Cut,
  clearanceQuery,
  type ElementAnswer,
  elementStates,
} from "../../api/clearance";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { moveByArrows, useFocusBack } from "../../ui/record/focus";
import { useGo } from "../../ui/record/RecordsPage";
import recordStyles from "../../ui/record/record.module.css";
import { StateBar, Stated } from "../../ui/State";
import { TakeTable } from "../../ui/TakeTable";
import { counted, wholeWords } from "../../words/amounts";
import { showDate, showDeadline, showLength } from "../../words/dates";
import { patternFor, wordFor } from "../../words/states";
import { framesToSeconds, readRate, showTimecode } from "../../words/timecode";
import { Approval } from "./Approval";
import { type Chosen, CutAndSpec } from "./CutAndSpec";
import styles from "./clearance.module.css";
import { ElementWhy } from "./ElementWhy";

export function Elements() {
  const series = useSeries();
  return (
    <Page
      title="Elements"
      place={series?.title}
      lead="Everything that the cut uses, measured against a delivery. Worst first."
    >
      <CutAndSpec>{(chosen) => <Clearance {...chosen} />}</CutAndSpec>
      <Caution>
        Not legal advice. Dates that were assumed are named with each answer; unknown is never a
        yes.
      </Caution>
    </Page>
  );
}

function Clearance({ episode, cut, spec }: Chosen) {
  const series = useSeriesId();
  const search = usePageSearch();
  const query = useQuery(clearanceQuery(series, episode.id, spec, cut.id));
  useFocusBack(search.record);
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the clearance of this cut" />;
  const open = query.data.elements.find((element) => element.id === search.record);
  const shown = found(query.data.elements, search.state, search.q);
  return (
    <>
      <div className={recordStyles.above} data-open={open ? true : undefined}>
        <Verdict answer={query.data} />
        <Approval answer={query.data} episode={episode} cut={cut} spec={spec} />
      </div>
      {query.data.elements.length === 0 ? (
        <EmptyState title="This cut uses nothing.">
          No event of it shows or sounds anything. Was the right list imported?
        </EmptyState>
      ) : (
        <div className={recordStyles.split} data-open={open ? true : undefined}>
          <div className={recordStyles.list}>
            <Find shown={shown.length} all={query.data.elements.length} />
            <ElementTable elements={shown} cut={cut} selected={open?.id} />
          </div>
          {open && (
            <section className={recordStyles.beside} aria-label="Why">
              <ElementWhy element={open} />
            </section>
          )}
        </div>
      )}
    </>
  );
}

/** Those in this state whose name or reasons hold every word that was typed. */
export function found(
  elements: readonly ElementAnswer[],
  state: string | undefined,
  typed: string | undefined,
): ElementAnswer[] {
  const words = (typed ?? "").toLowerCase().split(/\s+/).filter(Boolean);
  return elements.filter((element) => {
    if (state && element.state !== state) return false;
    const said = [element.label, ...element.reasons.map(({ sentence }) => sentence)]
      .join("\n")
      .toLowerCase();
    return words.every((word) => said.includes(word));
  });
}

function Find({ shown, all }: { shown: number; all: number }) {
  const search = usePageSearch();
  const go = useGo();
  return (
    <>
      <search className={`${recordStyles.tools} no-print`}>
        <TextInput
          data-find
          className={recordStyles.find ?? ""}
          aria-label="Find in elements"
          placeholder="Find by name or reason"
          value={search.q ?? ""}
          onChange={(event) => go({ q: event.currentTarget.value || undefined }, true)}
        />
        <output className={recordStyles.count}>
          {shown === all ? "" : `${wholeWords(shown)} of `}
          {counted(all, "element")}
        </output>
      </search>
      {shown === 0 && (
        <p className="quiet">
          No element fits what was chosen or typed.{" "}
          <Button
            variant="default"
            size="compact-sm"
            onClick={() => go({ q: undefined, state: undefined }, true)}
          >
            Show all
          </Button>
        </p>
      )}
    </>
  );
}

function Verdict({ answer }: { answer: ClearanceAnswer }) {
  const { state } = usePageSearch();
  const go = useGo();
  const blocking = answer.elements.filter((one) =>
    ["gap", "unknown_source", "unknown", "not_logged"].includes(one.state),
  ).length;
  return (
    <section aria-label="In short">
      <p className={styles.verdict}>
        <Stated pattern={answer.blocked ? "gap" : "covered"}>
          {answer.blocked
            ? `Not cleared: ${wholeWords(blocking)} of ${counted(answer.elements.length, "element")} ${blocking === 1 ? "stands" : "stand"} in the way.`
            : answer.elements.length === 1
              ? "The one element is cleared for this delivery."
              : `Every one of ${counted(answer.elements.length, "element")} is cleared for this delivery.`}
        </Stated>
      </p>
      <p className="quiet">
        Needed from {showDate(answer.needed.from)} to {showDate(answer.needed.to)}; to be cleared by{" "}
        {showDeadline(answer.needed_by)}. {answer.window.sentence}
      </p>
      <p className="quiet small">
        As {answer.specification.name} asks for it
        {answer.specification.edition
          ? `: ${answer.specification.edition}`
          : ", edition not entered"}
        . Such documents change.
      </p>
      <div className={styles.counts}>
        {elementStates
          .filter(({ value }) => answer.counts[value] > 0)
          .map(({ value, word, pattern }) => (
            <button
              key={value}
              type="button"
              className={styles.count}
              aria-pressed={state === value}
              onClick={() => go({ state: state === value ? undefined : value }, true)}
            >
              <Stated pattern={pattern}>
                {answer.counts[value]} {word}
              </Stated>
            </button>
          ))}
      </div>
      {answer.assumptions.length > 0 && (
        <details>
          <summary>Assumed ({answer.assumptions.length})</summary>
          <ul>
            {answer.assumptions.map((assumption) => (
              <li key={assumption}>{assumption}</li>
            ))}
          </ul>
        </details>
      )}
    </section>
  );
}

function ElementTable({
  elements,
  cut,
  selected,
}: {
  elements: readonly ElementAnswer[];
  cut: Cut;
  selected: string | undefined;
}) {
  const rate = readRate(cut.rate);
  return (
    <TakeTable name="elements">
      {/* biome-ignore lint/a11y/noStaticElementInteractions: arrow keys go between the links inside */}
      <div className={styles.scroll} onKeyDown={moveByArrows}>
        <table className={styles.table}>
          <caption className="visually-hidden">Elements of the cut, worst first</caption>
          <thead>
            <tr>
              <th scope="col">Element</th>
              <th scope="col">State</th>
              {!selected && (
                <>
                  <th scope="col" className={styles.wide}>
                    First reason
                  </th>
                  <th scope="col" className={styles.wide}>
                    First use
                  </th>
                  <th scope="col" className={styles.wide}>
                    In all
                  </th>
                </>
              )}
            </tr>
          </thead>
          <tbody>
            {elements.map((element) => (
              <tr key={element.id} data-selected={element.id === selected || undefined}>
                <td>
                  <span className={styles.element}>
                    <StateBar pattern={patternFor(elementStates, element.state)} />
                    <Link
                      to="."
                      search={(search) => ({ ...search, record: element.id })}
                      aria-current={element.id === selected ? "true" : undefined}
                      resetScroll={false}
                      data-row-link={element.id}
                    >
                      {element.label}
                    </Link>
                  </span>
                  {!selected && element.reasons[0] && (
                    <span className={`${styles.narrow} quiet small`} data-shown-again>
                      {element.reasons[0].sentence}
                    </span>
                  )}
                </td>
                <td>{wordFor(elementStates, element.state)}</td>
                {!selected && (
                  <>
                    <td className={`${styles.wide} ${styles.first}`}>
                      {element.reasons[0]?.sentence ?? ""}
                    </td>
                    <td className={styles.wide}>
                      {element.first_use && rate
                        ? showTimecode(element.first_use.record_in, rate)
                        : ""}
                    </td>
                    <td className={styles.wide}>
                      {rate
                        ? showLength(framesToSeconds(element.total_frames, rate))
                        : `${wholeWords(element.total_frames)} frames`}
                    </td>
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
