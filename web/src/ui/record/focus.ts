// Where the focus goes in a list with its open record: by arrows from row to row, and never back to the page's top.
import { type RefObject, useEffect, useRef } from "react";

/** Nothing has the focus: what had it is gone. */
const isLost = () => !document.activeElement || document.activeElement === document.body;

/** Arrows, Home and End go between the links with `data-row-link`. */
export function moveByArrows(event: React.KeyboardEvent<HTMLElement>): void {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const rows = [...event.currentTarget.querySelectorAll<HTMLElement>("[data-row-link]")];
  const at = rows.indexOf(document.activeElement as HTMLElement);
  if (at < 0) return;
  const next =
    event.key === "Home" ? 0 : event.key === "End" ? rows.length - 1 : step ? at + step : -1;
  if (next < 0 || next >= rows.length) return;
  event.preventDefault();
  rows[next]?.focus();
}

/** When the open record is closed from within, the focus goes back to its row. */
export function useFocusBack(open: string | undefined): void {
  const before = useRef(open);
  useEffect(() => {
    const closed = before.current;
    before.current = open;
    if (!closed || open || !isLost()) return;
    document.querySelector<HTMLElement>(`[data-row-link=${JSON.stringify(closed)}]`)?.focus();
  }, [open]);
}

/** When what had the focus gives way to something else (a button to its form), the focus stays with the record. */
export function useFocusKept(shown: unknown, head: RefObject<HTMLElement | null>): void {
  const before = useRef(shown);
  useEffect(() => {
    const changed = before.current !== shown;
    before.current = shown;
    if (changed && isLost()) head.current?.focus();
  }, [shown, head]);
}

/**
 * Whatever is opened beside (or, on a narrow screen, instead of) its list takes the focus and so comes into view, however
 * far down its row stands; the row stays in view with it. `id` is undefined until there is something to show.
 */
export function useOpened(
  id: string | undefined,
  head: RefObject<HTMLElement | null>,
  where: "everywhere" | "on a narrow screen" = "everywhere",
): void {
  useEffect(() => {
    if (!id) return;
    if (where !== "everywhere" && !window.matchMedia("(max-width: 1000px)").matches) return;
    // The list gives up columns for the panel, so the row has moved.
    document.querySelector("[data-selected]")?.scrollIntoView({ block: "nearest" });
    head.current?.focus();
  }, [id, head, where]);
}
