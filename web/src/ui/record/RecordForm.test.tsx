// The form of a record: faults before sending, the server's faults at their field, both versions on a conflict.
import { screen, waitFor, within } from "@testing-library/react";
import userEvent from "@testing-library/user-event";
import { expect, test, vi } from "vitest";
import { renderPiece } from "../../../test/render";
import { ApiError, problemToError } from "../../api/client";
import type { Field, Values } from "./description";
import { nowhere } from "./lookup";
import { RecordForm } from "./RecordForm";

const fields: readonly Field[] = [
  { type: "text", name: "name", label: "Name", required: true },
  { type: "date", name: "day", label: "Day" },
  { type: "longText", name: "notes", label: "Notes" },
];

const record = { name: "Gannet", day: "2026-03-14", notes: "", version: 3 };

async function form(save: (body: Values, version: number | undefined) => Promise<unknown>) {
  const onSaved = vi.fn();
  await renderPiece(
    <RecordForm
      description={{ one: "drive", fields }}
      record={record}
      lookup={nowhere}
      series="s"
      save={save}
      onSaved={onSaved}
    />,
  );
  return { user: userEvent.setup(), onSaved };
}

test("an empty required field and a date that is none are said, and nothing is sent", async () => {
  const save = vi.fn();
  const { user } = await form(save);
  await user.clear(screen.getByRole("textbox", { name: /Name/ }));
  const day = screen.getByRole("textbox", { name: "Day" });
  await user.clear(day);
  await user.type(day, "31/2/2026");
  await user.click(screen.getByRole("button", { name: "Save" }));
  const summary = screen.getByRole("alert");
  expect(summary).toHaveTextContent("Nothing was saved yet");
  expect(summary).toHaveTextContent("Name is needed.");
  expect(summary).toHaveTextContent("is not a date");
  expect(save).not.toHaveBeenCalled();
});

test("saving sends all fields with the version that was read", async () => {
  const save = vi.fn(async () => ({}));
  const { user, onSaved } = await form(save);
  await user.type(screen.getByRole("textbox", { name: "Notes" }), " kept at home ");
  await user.click(screen.getByRole("button", { name: "Save" }));
  await waitFor(() => expect(onSaved).toHaveBeenCalled());
  expect(save).toHaveBeenCalledWith(
    { name: "Gannet", day: "2026-03-14", notes: "kept at home" },
    3,
  );
});

// Source: common practice, no source.
test("the server's fault stands at its field and once above, and says that nothing was saved", async () => {
  const { user, onSaved } = await form(async () => {
    throw new ApiError(422, "invalid", "This can't be saved", "", [
      { pointer: "/name", detail: "Another drive has this label." },
    ]);
  });
  await user.click(screen.getByRole("button", { name: "Save" }));
  const summary = await screen.findByRole("alert");
  expect(summary).toHaveTextContent("Nothing was saved yet");
  expect(summary).toHaveTextContent("Name: Another drive has this label.");
  expect(screen.getByRole("textbox", { name: /Name/ })).toBeInvalid();
  expect(onSaved).not.toHaveBeenCalled();
});

test("a fault that belongs to no field of the form is said beside those that do", async () => {
  const { user } = await form(async () => {
    throw new ApiError(422, "invalid", "This can't be saved", "", [
      { pointer: "/name", detail: "Another drive has this label." },
      { pointer: "/elsewhere", detail: "The drive is in use." },
    ]);
  });
  await user.click(screen.getByRole("button", { name: "Save" }));
  expect(await screen.findByText("The drive is in use.")).toBeInTheDocument();
});

test("a conflict shows both versions and saves the choice on the newer one", async () => {
  const current = { name: "Gannet", day: "2026-03-14", notes: "in the office", version: 4 };
  const conflict = problemToError(412, {
    code: "stale",
    title: "Changed",
    current,
    changed_by: "Jory Pell",
    changed_at: "2026-11-25T10:00:00Z",
  });
  const save = vi
    .fn<(body: Values, version: number | undefined) => Promise<unknown>>()
    .mockRejectedValueOnce(conflict)
    .mockResolvedValueOnce({});
  const { user, onSaved } = await form(save);
  await user.type(screen.getByRole("textbox", { name: "Notes" }), "at home");
  await user.click(screen.getByRole("button", { name: "Save" }));
  const dialog = await screen.findByRole("dialog");
  expect(dialog).toHaveTextContent("Jory Pell saved this record");
  expect(within(dialog).getByRole("radio", { name: "at home" })).not.toBeChecked();
  await user.click(within(dialog).getByRole("radio", { name: "in the office" }));
  await user.click(within(dialog).getByRole("button", { name: "Save with these choices" }));
  await waitFor(() => expect(onSaved).toHaveBeenCalled());
  expect(save).toHaveBeenLastCalledWith(
    { name: "Gannet", day: "2026-03-14", notes: "in the office" },
    4,
  );
});
