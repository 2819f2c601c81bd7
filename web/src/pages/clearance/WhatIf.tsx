// "What if": changes tried on the clearance of a cut, with the fee typed for each; nothing is stored.

import { Button, NumberInput, Select, TextInput } from "@mantine/core";
import { useMutation, useQuery } from "@tanstack/react-query";
import { useEffect, useRef, useState } from "react";
import { blocks } from "../../api/blocks";
import {
  type ClearanceAnswer,
  clearanceQuery,
  elementStates,
  type WhatIfAnswer,
  type WhatIfStep,
} from "../../api/clearance";
import { answered, api } from "../../api/client";
import { useSeries, useSeriesId } from "../../app/series";
import { DateField, INVALID_DATE } from "../../ui/fields/DateField";
import fieldStyles from "../../ui/fields/fields.module.css";
import { OneGrant } from "../../ui/fields/GrantsField";
import { TerritoriesField } from "../../ui/fields/TerritoriesField";
import { Caution, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { type Grant, newGrant } from "../../ui/record/grants";
import { type Lookup, useLookup } from "../../ui/record/lookup";
import { Stated, StateWord } from "../../ui/State";
import { TakeTable } from "../../ui/TakeTable";
import table from "../../ui/table.module.css";
import { showMoney, wholeWords } from "../../words/amounts";
import { andList } from "../../words/lists";
import { type Chosen, CutAndSpec } from "./CutAndSpec";
import styles from "./clearance.module.css";
import { useUsualCurrency } from "./currency";
import { WhatIfCosts } from "./WhatIfCosts";

type Kind = "add_grant" | "extend" | "drop" | "add_territories" | "move_first_transmission";

interface Draft {
  kind: Kind;
  element: string | null;
  side: "composition" | "recording" | "both";
  grant: Grant;
  paper: string | null;
  to: string | null;
  territories: string[];
  fee: number | null;
  currency: string;
}

const kinds = [
  { value: "extend", label: "extend a licence or release" },
  { value: "add_grant", label: "get one more grant" },
  { value: "drop", label: "take an element out" },
  { value: "add_territories", label: "add territories to the delivery" },
  { value: "move_first_transmission", label: "move the first transmission" },
];

const blank = (currency: string): Draft => ({
  kind: "extend",
  element: null,
  side: "both",
  grant: { ...newGrant(), starts: "" },
  paper: null,
  to: null,
  territories: [],
  fee: null,
  currency,
});

export function WhatIf() {
  const series = useSeries();
  return (
    <Page
      title="What if"
      place={series?.title}
      lead="What a change would win and lose, before anyone signs. Nothing here is stored."
    >
      <CutAndSpec>{(chosen) => <Steps key={chosen.cut.id} {...chosen} />}</CutAndSpec>
      <Caution>
        It follows what was entered and the rules shown; it is no offer and no advice. A cell is one
        medium in one territory; it counts as cleared only when every needed day is.
      </Caution>
    </Page>
  );
}

function Steps({ episode, cut, spec }: Chosen) {
  const series = useSeriesId();
  const query = useQuery(clearanceQuery(series, episode.id, spec, cut.id));
  const currency = useUsualCurrency();
  const [drafts, setDrafts] = useState<Draft[]>([blank("")]);
  const attempt = useMutation({
    mutationFn: (steps: WhatIfStep[]) =>
      answered(
        api.POST("/api/series/{series}/episodes/{episode}/clearance/what-if", {
          params: {
            path: { series, episode: episode.id },
            query: { spec, cut: cut.id },
          },
          body: { steps },
        }),
      ),
  });
  // What was worked out belongs to one delivery.
  const { reset } = attempt;
  // biome-ignore lint/correctness/useExhaustiveDependencies: whenever another delivery is chosen
  useEffect(() => reset(), [spec, reset]);
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the clearance of this cut" />;
  // What was worked out belongs to the steps as they were.
  const set = (next: Draft[]) => {
    attempt.reset();
    setDrafts(next);
  };
  const put = (index: number, changes: Partial<Draft>) =>
    set(drafts.map((old, place) => (place === index ? { ...old, ...changes } : old)));
  const steps = drafts.map((draft) => stepOf({ ...draft, currency: draft.currency || currency }));
  const unread = steps.some((step) => JSON.stringify(step)?.includes(INVALID_DATE));
  const ready = !unread && steps.every((step): step is WhatIfStep => step !== null);
  return (
    <form
      onSubmit={(event) => {
        event.preventDefault();
        if (ready) attempt.mutate(steps as WhatIfStep[]);
      }}
    >
      {drafts.map((draft, index) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: steps have no identity but their place
        <fieldset key={index} className={`${fieldStyles.group} ${styles.step}`}>
          <legend>Step {index + 1}</legend>
          <StepFields
            draft={{ ...draft, currency: draft.currency || currency }}
            answer={query.data}
            put={(changes) => put(index, changes)}
          />
          {drafts.length > 1 && (
            <Button
              variant="default"
              size="compact-sm"
              mt="xs"
              onClick={() => set(drafts.filter((_, place) => place !== index))}
            >
              Take step {index + 1} out
            </Button>
          )}
        </fieldset>
      ))}
      <div className={`${styles.choosers} no-print`}>
        <Button variant="default" onClick={() => set([...drafts, blank("")])}>
          Add a step
        </Button>
        <Button type="submit" disabled={!ready} loading={attempt.isPending}>
          Try it
        </Button>
      </div>
      {!ready && (
        <p className="quiet no-print">Fill in each step; the fee may stay empty. Then try it.</p>
      )}
      <ErrorNote error={attempt.error} />
      <output>{attempt.data && <Outcome outcome={attempt.data} />}</output>
    </form>
  );
}

/** The step as it is sent; null while something is missing. */
export function stepOf(draft: Draft): WhatIfStep | null {
  const fee = draft.fee === null ? {} : { fee_minor: draft.fee, currency: draft.currency };
  switch (draft.kind) {
    case "add_grant": {
      const { grant } = draft;
      const whole = grant.territories.length && grant.media.length && grant.starts && grant.term;
      if (!draft.element || !whole) return null;
      return {
        ...fee,
        change: {
          change: "add_grant",
          element: draft.element,
          side: draft.side,
          grant: grant as never,
          allows_promotion: false,
        },
      };
    }
    case "extend":
      if (!draft.paper || !draft.to) return null;
      return { ...fee, change: { change: "extend", paper: draft.paper, to: draft.to } };
    case "drop":
      return draft.element ? { ...fee, change: { change: "drop", element: draft.element } } : null;
    case "add_territories":
      if (draft.territories.length === 0) return null;
      return { ...fee, change: { change: "add_territories", territories: draft.territories } };
    case "move_first_transmission":
      return draft.to
        ? { ...fee, change: { change: "move_first_transmission", to: draft.to } }
        : null;
  }
}

function StepFields({
  draft,
  answer,
  put,
}: {
  draft: Draft;
  answer: ClearanceAnswer;
  put: (changes: Partial<Draft>) => void;
}) {
  const series = useSeriesId();
  const lookup = useLookup(series, ["territory-groups", "licences", "releases"]);
  const groups = lookup.choices("territory-groups").map((one) => one.label);
  const elements = answer.elements.map((one) => ({ value: one.id, label: one.label }));
  const music = answer.elements.find((one) => one.id === draft.element)?.kind === "music";
  return (
    <div className={fieldStyles.stack}>
      <Select
        label="What"
        data={kinds}
        value={draft.kind}
        allowDeselect={false}
        onChange={(kind) => put({ kind: (kind ?? "extend") as Kind })}
      />
      {(draft.kind === "drop" || draft.kind === "add_grant") && (
        <Select
          label="Which element"
          data={elements}
          value={draft.element}
          searchable
          onChange={(element) => put({ element })}
        />
      )}
      {draft.kind === "extend" && (
        <Select
          label="Which paper"
          data={papersOf(answer, lookup)}
          value={draft.paper}
          searchable
          nothingFoundMessage="None of that name"
          onChange={(paper) => put({ paper })}
        />
      )}
      {draft.kind === "add_grant" && (
        <>
          {music && (
            <Select
              label="Which side"
              data={[
                { value: "composition", label: "composition" },
                { value: "recording", label: "recording" },
                { value: "both", label: "both" },
              ]}
              value={draft.side}
              allowDeselect={false}
              onChange={(side) => put({ side: (side ?? "both") as Draft["side"] })}
            />
          )}
          <OneGrant grant={draft.grant} groups={groups} onChange={(grant) => put({ grant })} />
        </>
      )}
      {draft.kind === "add_territories" && (
        <TerritoriesField
          label="Which"
          exceptable={false}
          groups={groups}
          value={draft.territories}
          except={[]}
          onChange={(territories) => put({ territories })}
        />
      )}
      {(draft.kind === "extend" || draft.kind === "move_first_transmission") && (
        <DateField
          label={draft.kind === "extend" ? "New last day" : "New day"}
          value={draft.to}
          onChange={(to) => put({ to })}
        />
      )}
      <div className={fieldStyles.pair}>
        <NumberInput
          label="Fee for it"
          description="What was named, or a guess; empty, the licence's step-ups count."
          min={0}
          decimalScale={2}
          thousandSeparator=","
          value={draft.fee === null ? "" : draft.fee / 100}
          onChange={(next) => put({ fee: next === "" ? null : Math.round(Number(next) * 100) })}
        />
        <TextInput
          label="Currency"
          description="Three letters."
          maxLength={3}
          value={draft.currency}
          onChange={(event) => put({ currency: event.currentTarget.value.toUpperCase() })}
        />
      </div>
    </div>
  );
}

/** The licences and releases behind the cut, by name; by what is said of them where they are not yours to see. */
function papersOf(answer: ClearanceAnswer, lookup: Lookup): { value: string; label: string }[] {
  const known = new Map(
    [...lookup.choices("licences"), ...lookup.choices("releases")].map((one) => [
      one.value,
      one.label,
    ]),
  );
  const said = [
    ...answer.elements.flatMap((element) =>
      element.reasons.map((reason) => ({ ...reason, label: element.label })),
    ),
    ...answer.calendar.map((line) => ({
      ...line,
      label: answer.elements.find((one) => one.id === line.element)?.label ?? "",
    })),
  ];
  const found = new Map<string, string>();
  for (const { paper_id, label, sentence } of said) {
    if (paper_id && !found.has(paper_id)) {
      found.set(paper_id, known.get(paper_id) ?? `${label}: ${sentence}`);
    }
  }
  return [...found]
    .map(([value, label]) => ({ value, label }))
    .toSorted((a, b) => a.label.localeCompare(b.label, "en-GB", { numeric: true }));
}

function Outcome({ outcome }: { outcome: WhatIfAnswer }) {
  const { before, after, won, lost, newly_open } = outcome;
  const blocking = (counts: typeof before.counts) =>
    counts.gap + counts.unknown + counts.unknown_source + counts.not_logged;
  // On a phone the answer stands below the fold, and the button that asked for it had the focus.
  const head = useRef<HTMLHeadingElement>(null);
  // biome-ignore lint/correctness/useExhaustiveDependencies: once for each answer
  useEffect(() => {
    head.current?.focus({ preventScroll: true });
    head.current?.parentElement?.scrollIntoView({ block: "nearest" });
  }, [outcome]);
  const fees = outcome.fees.map((fee) => showMoney(fee.minor, fee.currency));
  return (
    <section aria-label="What it would do">
      <h2 ref={head} tabIndex={-1} className={styles.head}>
        What it would do
      </h2>
      <p className={styles.verdict}>
        <Stated pattern={after.blocked ? "gap" : "covered"}>
          {blocking(before.counts) === 1
            ? "1 element stands in the way now"
            : `${wholeWords(blocking(before.counts))} elements stand in the way now`}
          , {blocking(after.counts) || "none"} then.
        </Stated>
      </p>
      <p>
        {wholeWords(won)} {won === 1 ? "cell" : "cells"} won, {wholeWords(lost)} lost,{" "}
        {wholeWords(newly_open)} newly asked and open
        {fees.length > 0 && <>; for {andList(fees)}</>}.
      </p>
      <p className="quiet">{after.window.sentence}</p>
      {outcome.elements.length === 0 ? (
        <p>It changes nothing for any element.</p>
      ) : (
        <TakeTable name="what-if">
          <div className={styles.scroll}>
            <table className={`${styles.table} ${table.blocks}`}>
              <caption className="visually-hidden">Elements that change</caption>
              <thead>
                <tr>
                  <th scope="col">Element</th>
                  <th scope="col">Now</th>
                  <th scope="col">Then</th>
                  <th scope="col">Cells</th>
                </tr>
              </thead>
              <tbody>
                {outcome.elements.map((one) => (
                  <tr key={one.id}>
                    <td>{one.label}</td>
                    <td data-head="now">
                      <StateWord words={elementStates} value={one.before} />
                    </td>
                    <td data-head="then">
                      {one.after ? (
                        <StateWord words={elementStates} value={one.after} />
                      ) : (
                        "out of the cut"
                      )}
                    </td>
                    <td>
                      {(["won", "lost", "newly_open"] as const).flatMap((how) =>
                        one[how].map((place) => (
                          <div key={`${how}${place.place}${place.media_words}`}>
                            {how === "newly_open" ? "open" : how}: {place.media_words} in{" "}
                            {place.place}
                          </div>
                        )),
                      )}
                    </td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        </TakeTable>
      )}
      <WhatIfCosts costs={outcome.costs} />
    </section>
  );
}
