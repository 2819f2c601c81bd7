// What tried changes do to the money: sums by currency, and the sentences behind them. Only for who may see fees.
import type { WhatIfAnswer } from "../../api/clearance";
import { TakeTable } from "../../ui/TakeTable";
import { showMoney } from "../../words/amounts";
import styles from "./clearance.module.css";

type TriedCosts = NonNullable<WhatIfAnswer["costs"]>;
type Line = TriedCosts["lines"][number];

/** What is left, or why nobody can say. */
function leftWords(minor: number | null, currency: string): string {
  return minor === null ? "no budget" : showMoney(minor, currency);
}

const columns: { header: string; words: (line: Line) => string }[] = [
  { header: "Fees typed", words: (line) => showMoney(line.fees_minor, line.currency) },
  { header: "Step-ups", words: (line) => showMoney(line.step_ups_minor, line.currency) },
  { header: "Equal terms add", words: (line) => showMoney(line.raised_minor, line.currency) },
  { header: "Saved", words: (line) => showMoney(line.saved_minor, line.currency) },
  { header: "It costs", words: (line) => showMoney(line.cost_minor, line.currency) },
  { header: "Left now", words: (line) => leftWords(line.left_before_minor, line.currency) },
  { header: "Left then", words: (line) => leftWords(line.left_after_minor, line.currency) },
];

export function WhatIfCosts({ costs }: { costs: TriedCosts | null }) {
  if (costs === null) {
    return (
      <p className="quiet">
        What it does to the costs is shown to those who may see fees; ask a series producer.
      </p>
    );
  }
  const { lines } = costs;
  const sentences = [...costs.step_ups, ...costs.equal_terms, ...costs.savings];
  return (
    <section aria-label="What it would cost">
      <h3>What it would cost</h3>
      {lines.length === 0 ? (
        <p>It touches no cost that is entered, and there is no budget for this episode.</p>
      ) : (
        <TakeTable name="what-if-costs">
          <div className={styles.scroll}>
            <table className={styles.table}>
              <caption className="visually-hidden">Money by currency</caption>
              <thead>
                <tr>
                  <th scope="col">Budget of</th>
                  {columns.map((column) => (
                    <th scope="col" key={column.header}>
                      {column.header}
                    </th>
                  ))}
                </tr>
              </thead>
              <tbody>
                {lines.map((line) => (
                  <tr key={`${line.episode_id}${line.currency}`}>
                    <td>{line.title}</td>
                    {columns.map((column) => (
                      <td key={column.header} className={styles.times}>
                        {column.words(line)}
                      </td>
                    ))}
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        </TakeTable>
      )}
      {lines
        .filter((line) => line.left_after_minor !== null && line.left_after_minor < 0)
        .map((line) => (
          <p key={`over${line.episode_id}${line.currency}`}>
            {line.title}: it would be {showMoney(-(line.left_after_minor ?? 0), line.currency)} over
            the budget.
          </p>
        ))}
      {sentences.length > 0 && (
        <ul>
          {sentences.map(({ sentence }) => (
            <li key={sentence}>{sentence}</li>
          ))}
        </ul>
      )}
      {costs.assumptions.map((words) => (
        <p key={words} className="quiet small">
          {words}
        </p>
      ))}
    </section>
  );
}
