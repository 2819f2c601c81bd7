// Still pictures: a box of fixed size, words for who doesn't see, and nothing where there is no picture.
import { fireEvent, render, screen } from "@testing-library/react";
import { expect, test } from "vitest";
import { renderPiece } from "../../../test/render";
import { FindTable } from "./FindTable";
import type { FileItem } from "./finding";
import { ContactSheet, Poster } from "./Pictures";

test("a poster says of which file it is and comes when it is scrolled to", () => {
  render(<Poster src="/api/series/s/pictures/a" name="A001C001.mov" />);
  const picture = screen.getByRole("img", { name: "A picture from A001C001.mov" });
  expect(picture).toHaveAttribute("src", "/api/series/s/pictures/a");
  expect(picture).toHaveAttribute("loading", "lazy");
  expect(picture).toHaveAttribute("width", "96");
  expect(picture).toHaveAttribute("height", "54");
});

test("a picture that can't be shown leaves its box empty", () => {
  const { container } = render(<Poster src="/gone" name="A001C001.mov" />);
  fireEvent.error(screen.getByRole("img"));
  expect(screen.queryByRole("img")).toBeNull();
  expect(container.querySelector("span")).not.toBeNull();
});

test("a file's panel shows the sheet, else the poster, else nothing", () => {
  const { container, rerender } = render(
    <ContactSheet sheet="/sheet" poster="/poster" name="A001C001.mov" />,
  );
  const sheet = screen.getByRole("link", { name: "Nine pictures over the length of A001C001.mov" });
  expect(sheet).toHaveAttribute("href", "/sheet");
  rerender(<ContactSheet sheet={null} poster="/poster" name="A001C001.mov" />);
  expect(screen.getByRole("link", { name: "A picture from A001C001.mov" })).toHaveAttribute(
    "href",
    "/poster",
  );
  rerender(<ContactSheet sheet={null} poster={null} name="A001C001.mov" />);
  expect(container).toBeEmptyDOMElement();
});

const hit = (id: string, poster: string | null): FileItem => ({
  id,
  name: `${id}.mov`,
  kind: "picture",
  size: 1,
  card_id: null,
  card: null,
  shot_on: null,
  reel: "",
  rate: null,
  start: null,
  frame_count: null,
  logged: "no",
  copies: [],
  poster,
  contact_sheet: null,
  shots: [],
  said: [],
});

test("hits keep room for pictures only where there are any", async () => {
  const { unmount } = await renderPiece(
    <FindTable
      items={[hit("one", "/p"), hit("two", null)]}
      picked={new Set()}
      setPicked={() => {}}
    />,
  );
  expect(await screen.findAllByRole("img")).toHaveLength(1);
  expect(screen.getByRole("img", { name: "A picture from one.mov" })).toBeVisible();
  unmount();
  const { container } = await renderPiece(
    <FindTable items={[hit("two", null)]} picked={new Set()} setPicked={() => {}} />,
  );
  await screen.findByRole("link", { name: "two.mov" });
  expect(container.querySelector("img")).toBeNull();
});
