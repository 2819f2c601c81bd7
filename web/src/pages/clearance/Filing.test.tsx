// Who may switch a filing day on.
import { screen } from "@testing-library/react";
import { expect, test, vi } from "vitest";
import { renderPiece } from "../../../test/render";
import type { WorkingSheet } from "../../api/cueSheets";
import { Filing } from "./CueSheet";

const may = vi.hoisted(() => ({ now: false }));
vi.mock("../../app/series", async (original) => ({
  ...(await original<object>()),
  useSeriesId: () => "s",
}));
vi.mock("../../app/may", () => ({ useMay: () => may.now }));

const working = {
  filing: [
    {
      rule: "quarter",
      words: "before the end of the month after the quarter",
      due: "2027-01-31",
      planned: false,
      switched_on: false,
    },
  ],
} as unknown as WorkingSheet;

// Rulebook R17 and 8: a filing day is a deliverable, and who may change those may switch it on.
test("a filing day says who may switch it on, and others can't", async () => {
  may.now = false;
  const view = await renderPiece(<Filing working={working} episode="e" />);
  expect(screen.getByRole("button", { name: /Add to deliverables/ })).toBeDisabled();
  expect(screen.getByText(/with your roles you can't, so ask one of them/)).toBeInTheDocument();
  view.unmount();
  may.now = true;
  await renderPiece(<Filing working={working} episode="e" />);
  expect(screen.getByRole("button", { name: /Add to deliverables/ })).toBeEnabled();
  expect(screen.getByText(/A series producer, a post supervisor/)).toBeInTheDocument();
  expect(screen.queryByText(/you can't/)).toBeNull();
});
