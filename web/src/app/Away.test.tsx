// A page that could not be fetched says why, and opens when the server is back.
import { act, screen } from "@testing-library/react";
import { afterEach, expect, test, vi } from "vitest";
import { renderPiece } from "../../test/render";
import { reportConnection } from "../api/connection";
import { Away } from "./Away";
import { fetched, PageAway } from "./pageAway";

afterEach(() => {
  vi.unstubAllGlobals();
  reportConnection("fine");
});

test("without a connection it waits for the server, then reloads once", async () => {
  vi.stubGlobal("fetch", () => Promise.reject(new TypeError("no network")));
  const reload = vi.fn();
  await renderPiece(<Away reload={reload} />);
  expect(await screen.findByText(/opens by itself/)).toBeInTheDocument();
  expect(reload).not.toHaveBeenCalled();
  act(() => reportConnection("fine"));
  expect(reload).toHaveBeenCalledOnce();
});

test("on a server that answers nothing is reloaded unasked", async () => {
  vi.stubGlobal("fetch", () => Promise.resolve(new Response("{}")));
  const reload = vi.fn();
  await renderPiece(<Away reload={reload} />);
  expect(await screen.findByText(/newer pages/)).toBeInTheDocument();
  expect(reload).not.toHaveBeenCalled();
});

test("a failed import is told from a fault in the page", async () => {
  const failed = Promise.reject(new TypeError("Failed to fetch dynamically imported module"));
  await expect(fetched(failed)).rejects.toBeInstanceOf(PageAway);
});
