// A note that is saved when it is left.
import { MantineProvider } from "@mantine/core";
import { render, screen, waitFor } from "@testing-library/react";
import userEvent from "@testing-library/user-event";
import { expect, test, vi } from "vitest";
import { NoteInput } from "./NoteInput";

// Source: common practice, no source.
test("what was typed stays when it could not be saved, and is sent again when it is left again", async () => {
  const save = vi
    .fn(() => Promise.resolve())
    .mockRejectedValueOnce(new Error("somebody was first"));
  const field = (note: string) => (
    <MantineProvider env="test">
      <NoteInput aria-label="Note" note={note} save={save} />
    </MantineProvider>
  );
  const { rerender } = render(field(""));
  const user = userEvent.setup();
  const input = screen.getByRole("textbox", { name: "Note" });
  await user.type(input, "mine");
  await user.tab();
  rerender(field("theirs"));
  expect(input).toHaveValue("mine");
  await user.click(input);
  await user.tab();
  await waitFor(() => expect(save).toHaveBeenCalledTimes(2));
  rerender(field("mine"));
  expect(input).toHaveValue("mine");
  // Undone: the field follows.
  rerender(field(""));
  expect(input).toHaveValue("");
});

test("a note left as it is saves nothing", async () => {
  const save = vi.fn(() => Promise.resolve());
  render(
    <MantineProvider env="test">
      <NoteInput aria-label="Note" note="as it is" save={save} />
    </MantineProvider>,
  );
  const user = userEvent.setup();
  await user.type(screen.getByRole("textbox", { name: "Note" }), "!{Backspace}");
  await user.tab();
  expect(save).not.toHaveBeenCalled();
});
