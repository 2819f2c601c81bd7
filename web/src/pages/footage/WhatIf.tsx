// What if a drive dies, or a place burns: what is gone, what is down to one copy, how likely it is, and what to copy
// where so that nothing stands on one copy. What is chosen stands in the address.
import { MultiSelect, NumberInput, Select, Switch } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { answered, api } from "../../api/client";
import { useRecords } from "../../api/records";
import type { components } from "../../api/schema.gen";
import { inSeries } from "../../app/areas";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useGo } from "../../ui/record/RecordsPage";
import recordStyles from "../../ui/record/record.module.css";
import { Stated } from "../../ui/State";
import { counted, showAmount, showHours, showShare, wholeWords } from "../../words/amounts";
import { andList } from "../../words/lists";
import styles from "./footage.module.css";

type Answer = components["schemas"]["DriveLoss"];
type Plan = components["schemas"]["CopyPlan"];

export function WhatIf() {
  const series = useSeriesId();
  const here = useSeries();
  const search = usePageSearch();
  const go = useGo();
  const drives = useRecords(series, "drives");
  const rows = drives.data ?? [];
  const places = [...new Set(rows.map((row) => String(row.place ?? "").trim()).filter(Boolean))];
  const chosen = search.drives?.split(",").filter(Boolean) ?? [];
  return (
    <Page
      title="What if"
      place={here?.title}
      lead="Choose drives that die, or a place that burns or is broken into. Nothing here changes anything."
    >
      {drives.error && <ErrorNote error={drives.error} retry={() => drives.refetch()} />}
      <div className={styles.filters}>
        <MultiSelect
          label="Drives that die"
          placeholder={chosen.length > 0 ? undefined : "none"}
          data={rows.map((row) => ({ value: row.id, label: String(row.label) }))}
          value={chosen}
          searchable
          clearable
          onChange={(ids) => go({ drives: ids.join(",") || undefined }, true)}
        />
        <Select
          label="Or all drives at"
          placeholder="no place"
          data={places}
          value={search.place ?? null}
          clearable
          onChange={(place) => go({ place: place ?? undefined }, true)}
        />
        <NumberInput
          label="Copying goes at"
          suffix=" MB/s"
          min={1}
          max={100_000}
          value={Number(search.rate ?? 250)}
          onChange={(rate) => go({ rate: Number(rate) > 0 ? String(rate) : undefined }, true)}
        />
      </div>
      {chosen.length > 0 || search.place ? (
        <Loss drives={search.drives} place={search.place} rate={Number(search.rate ?? 250)} />
      ) : (
        <EmptyState title="Nothing is chosen.">
          Choose a drive, several, or a place above. What to copy is below in any case.
        </EmptyState>
      )}
      <CopyPlan apart={search.apart === "yes"} rate={Number(search.rate ?? 250)} />
    </Page>
  );
}

function Loss(props: { drives: string | undefined; place: string | undefined; rate: number }) {
  const series = useSeriesId();
  const query = {
    ...(props.drives && { drives: props.drives }),
    ...(props.place && { place: props.place }),
    rate: props.rate * 1e6,
  };
  const { data, error, refetch } = useQuery({
    queryKey: ["series", series, "what-if", query],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/what-if", { params: { path: { series }, query }, signal }),
      ),
  });
  if (error) return <ErrorNote error={error} retry={() => refetch()} />;
  if (!data) return <Waiting what="what would be gone" />;
  const list = new URLSearchParams(
    Object.entries(query).map(([name, value]): [string, string] => [name, String(value)]),
  );
  const file = `/api/series/${series}/what-if/files.csv?${list}`;
  return (
    <section aria-label="What would be">
      <h2>{lossTitle(data, props)}</h2>
      {data.one_device.map((words) => (
        <p key={words}>
          <Stated pattern="restricted">{words}</Stated>
        </p>
      ))}
      {data.not_counted.length > 0 && (
        <p>
          <Stated pattern="unknown">
            {andList(data.not_counted.map((drive) => drive.label))}: missing, with a mismatch,
            retired, or one with such a drive, so nothing there counts now either.
          </Stated>
        </p>
      )}
      <p>
        <Stated pattern={data.gone.files > 0 ? "gap" : "covered"}>
          {data.gone.files > 0
            ? `${showAmount(data.gone)} would be gone.`
            : "Nothing would be gone."}
        </Stated>
      </p>
      <p>
        <Stated pattern={data.single.files > 0 ? "ends_soon" : "covered"}>
          {data.single.files > 0
            ? `${showAmount(data.single)} would be down to one copy; to copy that again takes ${showHours(data.copy_again.copy_seconds)}, ${showHours(data.copy_again.with_verify_seconds)} with reading it back.`
            : "Nothing would be down to one copy."}
        </Stated>
      </p>
      {data.gone.files + data.single.files > 0 && (
        <p className="no-print">
          Every file as a list: <a href={file}>those gone</a>,{" "}
          <a href={`${file}&single=true`}>those down to one copy</a>.
        </p>
      )}
      <Touched answer={data} />
      <Odds answer={data} />
    </section>
  );
}

/** What is supposed: drives that die, a place that is lost with what lies there, or both. */
export function lossTitle(
  data: Pick<Answer, "lost" | "not_counted">,
  asked: { drives: string | undefined; place: string | undefined },
) {
  const chosen = asked.drives?.split(",") ?? [];
  const named = [...data.lost, ...data.not_counted].filter(({ id }) => chosen.includes(id));
  const drives = andList(named.map(({ label }) => label));
  if (!asked.place) return `If ${drives} died`;
  return chosen.length > 0
    ? `If ${drives} and all at ${asked.place} were lost`
    : `If all at ${asked.place} were lost: ${andList(data.lost.map(({ label }) => label)) || "no drive"}`;
}

function Touched({ answer }: { answer: Answer }) {
  const series = useSeriesId();
  return (
    <>
      {answer.cards.length > 0 && (
        <>
          <h3>Cards</h3>
          <ul className={styles.touched}>
            {answer.cards.map((card) => (
              <li key={card.card_id ?? ""}>
                {card.card_id ? (
                  <Link to={inSeries(series, "footage/cards")} search={{ record: card.card_id }}>
                    {card.name}
                  </Link>
                ) : (
                  <span>{card.name}</span>
                )}
                <span className="quiet">
                  {[
                    card.gone.files && `${showAmount(card.gone)} gone`,
                    card.single.files && `${showAmount(card.single)} on one copy`,
                  ]
                    .filter(Boolean)
                    .join("; ")}
                </span>
              </li>
            ))}
          </ul>
        </>
      )}
      {answer.people.length > 0 && (
        <>
          <h3>People on camera</h3>
          <ul className={styles.touched}>
            {answer.people.map((person) => (
              <li key={person.person_id}>
                <span>{person.name}</span>
                <span className="quiet">
                  {wholeWords(person.gone)} of {counted(person.all, "file")} with them would be gone
                </span>
              </li>
            ))}
          </ul>
        </>
      )}
      {answer.cuts.length > 0 && (
        <>
          <h3>Newest cuts</h3>
          <ul className={styles.touched}>
            {answer.cuts.map((cut) => (
              <li key={cut.cut_id}>
                <Link
                  to={inSeries(series, "cut/strip")}
                  search={{ episode: cut.episode_id, cut: cut.cut_id }}
                >
                  {cut.episode}, {cut.cut}
                </Link>
                <span className="quiet">
                  {wholeWords(cut.gone)} of {counted(cut.all, "event")} would lose{" "}
                  {cut.gone === 1 ? "its" : "their"} file
                </span>
              </li>
            ))}
          </ul>
        </>
      )}
    </>
  );
}

function Odds({ answer }: { answer: Answer }) {
  const odds = answer.odds;
  const [one, two, three] = odds.copies;
  return (
    <>
      <h3>How likely drives fail</h3>
      <p>
        Where {showShare(odds.yearly)} of drives fail in a year,{" "}
        {odds.devices === 1 ? "your one drive" : `at least one of your ${odds.devices}`} fails with
        a chance of {showShare(odds.any)}. A file on one drive is lost with {showShare(one ?? 0)} a
        year, on two independent ones with {showShare(two ?? 0)}, on three with{" "}
        {showShare(three ?? 0)}.
      </p>
      <Caution>{odds.caution}</Caution>
    </>
  );
}

function CopyPlan({ apart, rate }: { apart: boolean; rate: number }) {
  const series = useSeriesId();
  const go = useGo();
  const query = { apart, rate: rate * 1e6 };
  const { data, error, refetch } = useQuery({
    queryKey: ["series", series, "copy-plan", query],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/copy-plan", { params: { path: { series }, query }, signal }),
      ),
  });
  return (
    <section aria-label="What to copy">
      <h2>What to copy, so that nothing stands on one copy</h2>
      <Switch
        className="no-print"
        mb="sm"
        label="Only to another place"
        checked={apart}
        onChange={(event) => go({ apart: event.currentTarget.checked ? "yes" : undefined }, true)}
      />
      {error && <ErrorNote error={error} retry={() => refetch()} />}
      {!error && !data && <Waiting what="what stands on one copy" />}
      {data && <Steps plan={data} />}
    </section>
  );
}

function Steps({ plan }: { plan: Plan }) {
  if (plan.wanted.files === 0) {
    return (
      <p>
        <Stated pattern="covered">Nothing in the catalogue stands on one copy.</Stated>
      </p>
    );
  }
  return (
    <>
      <p>
        {showAmount(plan.wanted)} stand on one copy;{" "}
        {plan.placed.files === 0
          ? "the plan finds room for none of it."
          : `the plan places ${showAmount(plan.placed)}, which takes ${showHours(plan.time.copy_seconds)}, ${showHours(plan.time.with_verify_seconds)} with reading it back.`}{" "}
        A tenth of each drive is kept free.
      </p>
      <ul className={recordStyles.related}>
        {plan.steps.map((step) => (
          <li key={`${step.from.id}${step.card_id}${step.name}`}>
            <Stated pattern={step.to ? "none" : "gap"}>
              {step.name}: {showAmount(step.amount)} from {step.from.label}
              {step.to ? ` to ${step.to.label}` : `, nowhere. ${step.why_not}`}
            </Stated>
          </li>
        ))}
      </ul>
      {plan.room_unknown.length > 0 && (
        <p className="quiet">
          Nothing is planned onto {andList(plan.room_unknown.map((drive) => drive.label))}: enter
          the free space at the drive.
        </p>
      )}
    </>
  );
}
