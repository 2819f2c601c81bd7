// Money of licences: quoted, agreed, paid, step-ups, equal terms; and above the list what it comes to against the
// budgets. Only for those who may see fees; the server sends nothing of it to others.

import { useQuery } from "@tanstack/react-query";
import { useCallback } from "react";
import { blocks } from "../../api/blocks";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import type { SavedRecord } from "../../api/types";
import { useMay } from "../../app/may";
import type { PageSearch } from "../../app/search";
import { useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { type Column, type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Scroll } from "../../ui/Scroll";
import { Stated } from "../../ui/State";
import table from "../../ui/table.module.css";
import { showMoney, wholeWords } from "../../words/amounts";
import reportStyles from "../delivery/report.module.css";
import styles from "./clearance.module.css";
import { useUsualCurrency } from "./currency";

const minorOf = (record: SavedRecord, name: string) => {
  const minor = record[`${name}_minor`];
  return typeof minor === "number" ? minor : null;
};

const shown = (record: SavedRecord, name: string) => {
  const minor = minorOf(record, name);
  return minor === null ? "" : showMoney(minor, String(record.currency ?? ""));
};

/** Ordered by the number, shown with its currency. */
const amountColumn = (name: string, header: string): Column => ({
  name,
  header,
  value: (record) => shown(record, name),
  rank: (record) => minorOf(record, name),
  cell: (record) => <span className={styles.amount}>{shown(record, name)}</span>,
  align: "right",
});

/** How far a cost has come: on a phone there is room for one amount. */
function furthest(record: SavedRecord): string {
  const stage = ["paid", "agreed", "quoted"].find((name) => minorOf(record, name) !== null);
  return stage ? `${stage} ${shown(record, stage)}` : "";
}

export const costs: Description = {
  kind: "costs",
  one: "cost",
  aOne: "a cost",
  many: "Costs",
  lead: "What each licence was quoted, agreed and paid at. Amounts are never added across currencies.",
  action: "edit_licences",
  title: (record, lookup) => lookup.name("licences", record.licence_id),
  fields: [
    { type: "reference", name: "licence_id", kind: "licences", label: "Licence", required: true },
    {
      type: "reference",
      name: "episode_id",
      kind: "episodes",
      label: "Episode",
      help: "Empty: the series as a whole.",
    },
    {
      type: "text",
      name: "currency",
      label: "Currency",
      help: "Three capital letters, for instance GBP.",
      max: 3,
      required: true,
    },
    { type: "amount", name: "quoted_minor", label: "Quoted" },
    { type: "amount", name: "agreed_minor", label: "Agreed" },
    { type: "amount", name: "paid_minor", label: "Paid" },
    { type: "date", name: "paid_on", label: "Paid on" },
    {
      type: "yesNo",
      name: "most_favoured",
      label: "Equal terms were promised",
      help: "No less than the best paid of the same piece of music (most favoured nations).",
    },
    { type: "stepUps", name: "step_ups", label: "Step-ups" },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    {
      name: "licence",
      header: "Licence",
      value: (record, lookup) => lookup.name("licences", record.licence_id),
    },
    {
      name: "episode",
      header: "Episode",
      value: (record, lookup) =>
        record.episode_id ? lookup.name("episodes", record.episode_id) : "the series",
      phone: true,
    },
    { ...amountColumn("quoted", "Quoted"), phone: furthest },
    amountColumn("agreed", "Agreed"),
    amountColumn("paid", "Paid"),
  ],
  order: "licence",
  empty: {
    title: "No costs yet.",
    text: "Add what a licence was quoted or agreed at, for an episode or for the series.",
  },
};

export const budgets: Description = {
  kind: "budgets",
  one: "budget",
  aOne: "a budget",
  many: "Budgets",
  lead: "What may be spent on licences, for an episode or for the series as a whole.",
  action: "edit_licences",
  title: (record) => text(record, "title"),
  fields: [
    { type: "text", name: "title", label: "Title", required: true, max: 200 },
    {
      type: "reference",
      name: "episode_id",
      kind: "episodes",
      label: "Episode",
      help: "Empty: the series as a whole.",
    },
    {
      type: "text",
      name: "currency",
      label: "Currency",
      help: "Three capital letters, for instance GBP.",
      max: 3,
      required: true,
    },
    { type: "amount", name: "amount_minor", label: "Amount", required: true },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    { name: "title", header: "Title", value: (record) => text(record, "title") },
    {
      name: "episode",
      header: "Episode",
      value: (record, lookup) =>
        record.episode_id ? lookup.name("episodes", record.episode_id) : "the series",
      phone: true,
    },
    { ...amountColumn("amount", "Amount"), phone: true },
  ],
  order: "title",
  empty: { title: "No budget yet.", text: "Add what may be spent; costs are held against it." },
};

function NoFees() {
  return (
    <EmptyState title="None of your roles in this series includes seeing fees.">
      Ask a series producer or an administrator.
    </EmptyState>
  );
}

export function Costs() {
  const start = useStart();
  if (!useMay("view_fees")) return <NoFees />;
  return (
    <RecordsPage
      description={costs}
      start={start}
      above={
        <>
          <Summary />
          <h2>Each licence</h2>
        </>
      }
    />
  );
}

export function Budgets() {
  const start = useStart();
  if (!useMay("view_fees")) return <NoFees />;
  return <RecordsPage description={budgets} start={start} />;
}

/** A new one begins in the chosen episode and the usual currency. */
function useStart() {
  const currency = useUsualCurrency();
  return useCallback(
    (search: PageSearch) => ({ episode_id: search.episode ?? null, currency }),
    [currency],
  );
}

const heads = [
  "Budget",
  "Quoted",
  "Agreed",
  "Paid",
  "Left",
  "Equal terms add",
  "Step-ups not taken",
  "Its part of the series’ own",
];

/** Nothing is a dash: a column of noughts hides what is there. */
function Amount({ head, minor, currency }: { head: string; minor: number; currency: string }) {
  return (
    <td data-align="right" data-head={head}>
      {minor === 0 ? "–" : showMoney(minor, currency)}
    </td>
  );
}

function Summary() {
  const series = useSeriesId();
  const query = useQuery({
    queryKey: ["series", series, "cost-summary"] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/cost-summary", { params: { path: { series } }, signal }),
      ),
  });
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the sums" />;
  const { lines, equal_terms, billed, differences, assumptions } = query.data;
  return (
    <section aria-label="Against the budget">
      {lines.length === 0 ? (
        <p className="quiet">No cost and no budget is entered yet.</p>
      ) : (
        <Scroll label="Against the budget">
          <table className={`${styles.table} ${table.blocks} ${styles.sums}`}>
            <caption className="visually-hidden">Costs against budgets</caption>
            <thead>
              <tr>
                <th scope="col">Episode</th>
                {heads.map((head) => (
                  <th key={head} scope="col" data-align="right">
                    {head}
                  </th>
                ))}
              </tr>
            </thead>
            <tbody>
              {lines.map((line) => (
                <tr key={`${line.episode_id} ${line.currency}`}>
                  <th scope="row">{line.title}</th>
                  {line.budget_minor === null ? (
                    <td data-align="right" data-head="Budget" className="quiet">
                      none in {line.currency}
                    </td>
                  ) : (
                    <Amount head="Budget" minor={line.budget_minor} currency={line.currency} />
                  )}
                  <Amount head="Quoted" minor={line.quoted_minor} currency={line.currency} />
                  <Amount head="Agreed" minor={line.agreed_minor} currency={line.currency} />
                  <Amount head="Paid" minor={line.paid_minor} currency={line.currency} />
                  <td data-align="right" data-head="Left">
                    {line.left_minor !== null && (
                      <Stated pattern={line.left_minor < 0 ? "gap" : "covered"}>
                        {showMoney(line.left_minor, line.currency)}
                      </Stated>
                    )}
                  </td>
                  <Amount
                    head="Equal terms add"
                    minor={line.raised_minor}
                    currency={line.currency}
                  />
                  <Amount
                    head="Step-ups not taken"
                    minor={line.step_ups_minor}
                    currency={line.currency}
                  />
                  <Amount
                    head="Its part of the series’ own"
                    minor={line.shared_minor}
                    currency={line.currency}
                  />
                </tr>
              ))}
            </tbody>
          </table>
        </Scroll>
      )}
      <BilledList billed={billed} />
      {[...equal_terms.map((term) => term.sentence), ...differences].map((words) => (
        <p key={words} className={styles.notice}>
          <Stated pattern="restricted">{words}</Stated>
        </p>
      ))}
      <p className={`${reportStyles.forms} no-print`}>
        Take it away as{" "}
        {(["pdf", "xlsx", "csv"] as const).map((form) => (
          <a key={form} href={`/api/series/${series}/cost-summary/${form}`} download>
            {form.toUpperCase()}
          </a>
        ))}
      </p>
      <details>
        <summary>How this is counted ({assumptions.length})</summary>
        <ul>
          {assumptions.map((line) => (
            <li key={line}>{line}</li>
          ))}
        </ul>
      </details>
    </section>
  );
}

/** What licences with a minimum bill: seconds used in each latest cut, in all, and what is billed (R10). */
function BilledList({ billed }: { billed: readonly components["schemas"]["Billed"][] }) {
  if (billed.length === 0) return null;
  return (
    <>
      <h3>Minimum billing</h3>
      <Scroll label="Minimum billing">
        <table className={`${table.table} ${table.blocks} ${reportStyles.table}`}>
          <caption className="visually-hidden">Seconds used and billed, licence by licence</caption>
          <thead>
            <tr>
              <th scope="col">Licence</th>
              <th scope="col">Cut</th>
              <th scope="col">Uses</th>
              <th scope="col">Seconds used</th>
              <th scope="col">Seconds billed</th>
            </tr>
          </thead>
          {billed.map((one) => (
            <tbody key={one.licence_id}>
              {one.cuts.map((cut, at) => (
                <tr key={cut.episode_id}>
                  <th scope="row">{at === 0 && `${one.licensor}, for “${one.subject}”`}</th>
                  <td>
                    {cut.number}. {cut.cut_name}
                  </td>
                  <td data-head="uses">{wholeWords(cut.uses)}</td>
                  <td data-head="seconds used">{cut.used_seconds}</td>
                  {one.minimum.per === "cut" ? (
                    <td data-head="seconds billed">{cut.billed_seconds}</td>
                  ) : (
                    <td />
                  )}
                </tr>
              ))}
              <tr>
                <th scope="row">
                  {one.cuts.length === 0 && `${one.licensor}, for “${one.subject}”`}
                </th>
                <td>
                  In all; at least {one.minimum.seconds} s{" "}
                  {one.minimum.per === "cut" ? "for each use" : "for the project"}
                </td>
                <td data-head="uses">{wholeWords(one.uses)}</td>
                <td data-head="seconds used">{one.used_seconds}</td>
                <td data-head="seconds billed">
                  <strong>{one.billed_seconds}</strong>
                </td>
              </tr>
            </tbody>
          ))}
        </table>
      </Scroll>
    </>
  );
}
