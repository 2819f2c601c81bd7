// The open record: what is typed outlives a newer version, and what was saved can be undone.
import { QueryClient, QueryClientProvider } from "@tanstack/react-query";
import { act, screen, waitFor } from "@testing-library/react";
import userEvent from "@testing-library/user-event";
import { useState } from "react";
import { afterEach, expect, test, vi } from "vitest";
import { renderPiece } from "../../../test/render";
import type { Description, Values } from "./description";
import { nowhere } from "./lookup";
import { RecordPanel } from "./RecordPanel";

const description = {
  kind: "drives",
  one: "drive",
  many: "Drives",
  title: (record: Values) => String(record.name),
  fields: [
    { type: "text", name: "name", label: "Name", required: true },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [],
} as unknown as Description;

/** A server with one drive, and what was sent to it. */
function server() {
  const drive = { id: "d", name: "Gannet", notes: "", version: 3, updated_at: null };
  const sent: { body: Values; version: string | null }[] = [];
  const json = (body: unknown) =>
    new Response(JSON.stringify(body), { headers: { "Content-Type": "application/json" } });
  vi.stubGlobal(
    "fetch",
    vi.fn(async (request: Request) => {
      if (request.method === "PUT") {
        const body = (await request.json()) as Values;
        sent.push({ body, version: request.headers.get("If-Match") });
        Object.assign(drive, body, { version: drive.version + 1 });
      }
      return json(drive);
    }),
  );
  return { drive, sent };
}

const queries = new QueryClient({ defaultOptions: { queries: { retry: false } } });
afterEach(() => {
  queries.clear();
  vi.unstubAllGlobals();
});

function Panel() {
  const [editing, setEditing] = useState(true);
  return (
    <QueryClientProvider client={queries}>
      <RecordPanel
        description={description}
        series="s"
        id="d"
        editing={editing}
        may
        lookup={nowhere}
        onEdit={setEditing}
        onClose={() => {}}
      />
    </QueryClientProvider>
  );
}

// Source: common practice, no source.
test("what is typed stays when somebody else saves the record meanwhile", async () => {
  const { drive, sent } = server();
  await renderPiece(<Panel />);
  const user = userEvent.setup();
  await user.type(await screen.findByRole("textbox", { name: "Notes" }), "at home");
  Object.assign(drive, { name: "Gannet 2", version: 4 });
  await act(() => queries.invalidateQueries());
  await screen.findByRole("heading", { name: "Gannet 2" });
  expect(screen.getByRole("textbox", { name: "Notes" })).toHaveValue("at home");
  await user.click(screen.getByRole("button", { name: "Save" }));
  // On the version that was read: the server then says that another stands there.
  await waitFor(() => expect(sent[0]?.version).toBe('"3"'));
});

// Source: common practice, no source.
test("a form stays while the server is away, and when its record is removed meanwhile", async () => {
  server();
  await renderPiece(<Panel />);
  const user = userEvent.setup();
  await user.type(await screen.findByRole("textbox", { name: "Notes" }), "at home");
  for (const answer of [
    () => Promise.reject(new TypeError("no network")),
    () => Promise.resolve(new Response("{}", { status: 404 })),
  ]) {
    vi.stubGlobal("fetch", vi.fn(answer));
    await act(() => queries.invalidateQueries());
    expect(screen.getByRole("textbox", { name: "Notes" })).toHaveValue("at home");
  }
});

test("a saved change can be undone, on the version that it made", async () => {
  const { sent } = server();
  await renderPiece(<Panel />);
  const user = userEvent.setup();
  await user.type(await screen.findByRole("textbox", { name: "Notes" }), "at home");
  await user.click(screen.getByRole("button", { name: "Save" }));
  await user.click(await screen.findByRole("button", { name: "Undo" }));
  expect(await screen.findByText("It is as it was before.")).toBeInTheDocument();
  expect(sent).toEqual([
    { body: { name: "Gannet", notes: "at home" }, version: '"3"' },
    { body: { name: "Gannet", notes: "" }, version: '"4"' },
  ]);
});
