// Finding while the server is away: nothing of another search stands there as if it were the answer.
import { screen, waitFor } from "@testing-library/react";
import userEvent from "@testing-library/user-event";
import { afterEach, expect, test, vi } from "vitest";
import { renderPiece } from "../../../test/render";
import { Find } from "./Find";

vi.mock("../../app/series", async (original) => ({
  ...(await original<object>()),
  useSeriesId: () => "s",
  useSeries: () => null,
}));
vi.mock("../../app/may", () => ({ useMay: () => false }));

afterEach(() => vi.unstubAllGlobals());

const hit = {
  id: "f1",
  name: "A001C001.mov",
  card: null,
  shot_on: null,
  start: null,
  rate: null,
  frame_count: null,
  logged: "whole",
  copies: [],
  shots: [],
  said: [],
  poster: null,
};

const answers: [path: RegExp, body: unknown][] = [
  [/file-facets/, { facets: [], counted: 1, complete: true, meant: [meant("Ada Wren")] }],
  [/\/files\?/, { items: [hit], next: null, total: 1, read_as: [] }],
  [/./, { items: [], next: null }],
];

function meant(words: string) {
  return { filter: "person", value: "p1", words };
}

const online = vi.fn(async (asked: RequestInfo | URL) => {
  const { url } = asked as Request;
  const body = answers.find(([path]) => path.test(url))?.[1];
  return new Response(JSON.stringify(body), { headers: { "Content-Type": "application/json" } });
});

test("without the server neither a count nor the hits and names of the search before stand there", async () => {
  vi.stubGlobal("fetch", online);
  await renderPiece(<Find />, "/?q=ada");
  expect(await screen.findByRole("link", { name: "A001C001.mov" })).toBeInTheDocument();
  expect(await screen.findByRole("button", { name: "Ada Wren, a person" })).toBeInTheDocument();
  expect(screen.getByText("1 file")).toBeInTheDocument();
  vi.stubGlobal("fetch", () => Promise.reject(new TypeError("away")));
  await userEvent.type(screen.getByRole("textbox", { name: "Find files" }), "m");
  expect(await screen.findByText(/can't be reached/)).toBeInTheDocument();
  await waitFor(() => expect(screen.queryByRole("link", { name: "A001C001.mov" })).toBeNull());
  expect(screen.queryByRole("button", { name: "Ada Wren, a person" })).toBeNull();
  expect(screen.queryByText(/\d files?/)).toBeNull();
  expect(screen.queryByText(/No file fits/)).toBeNull();
}, 20_000);
