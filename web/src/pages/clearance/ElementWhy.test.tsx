// What an element rests on is named, with a way to each paper and to the record that states a ground.
import { screen, within } from "@testing-library/react";
import { expect, test, vi } from "vitest";
import { renderPiece } from "../../../test/render";
import type { ElementAnswer } from "../../api/clearance";
import { ElementWhy } from "./ElementWhy";

vi.mock("../../app/series", async (original) => ({
  ...(await original<typeof import("../../app/series")>()),
  useSeriesId: () => "s1",
}));
vi.mock("../../app/may", () => ({ useMay: () => false }));

const newsreel: ElementAnswer = {
  id: "asset-1",
  kind: "archive",
  label: "Harbour newsreel 1934",
  state: "covered",
  uses: 1,
  total_frames: 250,
  cells: [],
  reasons: [],
  assumptions: [],
  provisional: false,
  end: { kind: "open" },
  behind: [
    {
      kind: "licence",
      paper_id: "licence-1",
      name: "The licence from Quay Archive, signed on 10 Jan 2026",
      holds: "yes",
    },
    {
      kind: "release",
      paper_id: "release-1",
      name: "The form for Harbour newsreel 1934",
      holds: "no",
    },
    { kind: "ground", paper_id: null, name: "Fair dealing", holds: "not_here" },
  ],
};

// Source: rulebook 3.2: "cleared" states the basis.
test("papers and grounds are named with what each is worth", async () => {
  await renderPiece(<ElementWhy element={newsreel} />);
  expect(screen.getByText("Nothing stands against it.")).toBeInTheDocument();
  const list = within(screen.getByRole("list", { name: "Papers and grounds" }));
  const [licence, release, ground] = list.getAllByRole("listitem");
  expect(licence).toHaveTextContent("The licence from Quay Archive, signed on 10 Jan 2026 holds");
  expect(release).toHaveTextContent("does not hold");
  expect(ground).toHaveTextContent("Fair dealing reaches nothing that is needed here");
  const links = list.getAllByRole("link").map((link) => link.getAttribute("href"));
  expect(links).toEqual([
    expect.stringMatching(/clearance\/licences\?record=licence-1$/),
    expect.stringMatching(/shoot\/releases\?record=release-1$/),
    expect.stringMatching(/clearance\/imports\?record=asset-1$/),
  ]);
});
