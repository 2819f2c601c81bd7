// A table as a CSV file (RFC 4180) that a spreadsheet opens: with a byte order mark, and so that no cell runs as a formula.

/** A text that begins as a formula does gets an apostrophe, as in the server's own lists (its crate reports, csv.rs). */
const plain = (cell: string): string =>
  /^[=+\-@\t\r]/.test(cell) && !/^-$/.test(cell) ? `'${cell}` : cell;

const quoted = (cell: string): string =>
  /[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;

export const toCsv = (rows: readonly (readonly string[])[]): string =>
  `\uFEFF${rows.map((row) => row.map((cell) => quoted(plain(cell))).join(",")).join("\r\n")}\r\n`;

/** What a table shows, row by row; pictures and what is hidden from readers are left out. */
export function shownIn(table: HTMLTableElement): string[][] {
  return [...table.rows].map((row) => [...row.cells].map(textOf));
}

/**
 * What stands in a cell. A column that a phone has no room for is taken all the same; what stands elsewhere for that
 * reason (`data-shown-again`) is not taken twice.
 */
function textOf(cell: HTMLElement): string {
  const hidden = !(cell.checkVisibility?.() ?? true);
  const walker = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
  const words: string[] = [];
  while (walker.nextNode()) {
    const { parentElement, textContent } = walker.currentNode;
    const seen = hidden || (parentElement?.checkVisibility?.() ?? true);
    const left = parentElement?.closest("[aria-hidden=true], [data-shown-again]");
    if (seen && !left) words.push(textContent ?? "");
  }
  return words.join(" ").replace(/\s+/g, " ").trim();
}

export function saveAs(name: string, content: Blob): void {
  const url = URL.createObjectURL(content);
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  window.setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
