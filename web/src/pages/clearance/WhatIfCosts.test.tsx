// What tried changes cost, as it is shown.
import { screen } from "@testing-library/react";
import { expect, test } from "vitest";
import { renderPiece } from "../../../test/render";
import { WhatIfCosts } from "./WhatIfCosts";

const line = {
  episode_id: "e1",
  title: "4. High Water",
  currency: "GBP",
  fees_minor: 30_000,
  step_ups_minor: 0,
  raised_minor: 30_000,
  saved_minor: 0,
  cost_minor: 60_000,
  left_before_minor: 50_000,
  left_after_minor: -10_000,
};

// Issue 4, items 6 and 7: the money of a what-if; currencies are never added.
test("each currency stands by itself, and what goes over the budget is said", async () => {
  const euros = { ...line, currency: "EUR", left_before_minor: null, left_after_minor: null };
  await renderPiece(
    <WhatIfCosts
      costs={{
        lines: [line, euros],
        step_ups: [],
        equal_terms: [
          { currency: "GBP", more_minor: 30_000, sentence: "The whole programme: more (R11)." },
        ],
        savings: [],
        assumptions: ["Amounts are never added across currencies."],
      }}
    />,
  );
  expect(screen.getByText("EUR 600.00")).toBeInTheDocument();
  expect(screen.getByText("−GBP 100.00")).toBeInTheDocument();
  expect(screen.getAllByText("no budget")).toHaveLength(2);
  expect(
    screen.getByText("4. High Water: it would be GBP 100.00 over the budget."),
  ).toBeInTheDocument();
  expect(screen.getByText("The whole programme: more (R11).")).toBeInTheDocument();
});

// Rulebook 8: an editor sees no fees.
test("who may not see fees is told so", async () => {
  await renderPiece(<WhatIfCosts costs={null} />);
  expect(screen.getByText(/shown to those who may see fees/)).toBeInTheDocument();
  expect(screen.queryByRole("table")).toBeNull();
});
