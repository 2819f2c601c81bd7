// Money of licences: quoted, agreed, paid, step-ups, equal terms; and above the list what it comes to against the
// budgets. Only for those who may see fees; the server sends nothing of it to others.
import { useQuery } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { amountWords } from "../../ui/fields/StepUpsField";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { Scroll } from "../../ui/Scroll";
import { Stated } from "../../ui/State";
import reportStyles from "../delivery/report.module.css";

const shown = (record: Record<string, unknown>, name: string) =>
  typeof record[name] === "number" ? amountWords(record[name], String(record.currency ?? "")) : "";

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
    { name: "quoted", header: "Quoted", value: (record) => shown(record, "quoted_minor") },
    {
      name: "agreed",
      header: "Agreed",
      value: (record) => shown(record, "agreed_minor"),
      phone: true,
    },
    { name: "paid", header: "Paid", value: (record) => shown(record, "paid_minor") },
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
    {
      name: "amount",
      header: "Amount",
      value: (record) => shown(record, "amount_minor"),
      phone: true,
    },
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
  if (!useMay("view_fees")) return <NoFees />;
  return <RecordsPage description={costs} above={<Summary />} />;
}

export function Budgets() {
  if (!useMay("view_fees")) return <NoFees />;
  return <RecordsPage description={budgets} />;
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
  if (query.error) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the sums" />;
  const { lines, equal_terms, differences, assumptions } = query.data;
  return (
    <section aria-label="Against the budget">
      {lines.length === 0 ? (
        <p className="quiet">No cost and no budget is entered yet.</p>
      ) : (
        <Scroll label="Against the budget">
          <table className={reportStyles.table}>
            <caption className="visually-hidden">Costs against budgets</caption>
            <thead>
              <tr>
                <th scope="col">Episode</th>
                <th scope="col">Budget</th>
                <th scope="col">Quoted</th>
                <th scope="col">Agreed</th>
                <th scope="col">Paid</th>
                <th scope="col">Left</th>
                <th scope="col">Step-ups not taken</th>
              </tr>
            </thead>
            <tbody>
              {lines.map((line) => (
                <tr key={`${line.episode_id} ${line.currency}`}>
                  <th scope="row">{line.title}</th>
                  <td>
                    {line.budget_minor === null ? (
                      <span className="quiet">none in {line.currency}</span>
                    ) : (
                      amountWords(line.budget_minor, line.currency)
                    )}
                  </td>
                  <td>{amountWords(line.quoted_minor, line.currency)}</td>
                  <td>{amountWords(line.agreed_minor, line.currency)}</td>
                  <td>{amountWords(line.paid_minor, line.currency)}</td>
                  <td>
                    {line.left_minor !== null && (
                      <Stated pattern={line.left_minor < 0 ? "gap" : "covered"}>
                        {amountWords(line.left_minor, line.currency)}
                      </Stated>
                    )}
                  </td>
                  <td>{amountWords(line.step_ups_minor, line.currency)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </Scroll>
      )}
      {[...equal_terms.map((term) => term.sentence), ...differences].map((words) => (
        <p key={words}>
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
      {assumptions.map((line) => (
        <p key={line} className="quiet small">
          {line}
        </p>
      ))}
    </section>
  );
}
