// Amounts of footage, times and shares in words.
import { showBytes } from "./dates";

/** A number with its thousands set apart: 12,345. */
export const wholeWords = (count: number) => count.toLocaleString("en-GB");

/** `1 file`, `2,412 files`; the plural where it is not the word with an s. */
export const counted = (count: number, one: string, many = `${one}s`) =>
  `${wholeWords(count)} ${count === 1 ? one : many}`;

/** `1 file, 5 bytes`; `412 files, 1.20 TB`. */
export function showAmount(amount: { files: number; bytes: number }): string {
  return `${counted(amount.files, "file")}, ${showBytes(amount.bytes)}`;
}

/** `40 seconds`, `21 minutes`, `5.3 hours`. */
export function showHours(seconds: number): string {
  if (seconds < 1) return "less than a second";
  if (seconds < 90) return seconds < 1.5 ? "1 second" : `${Math.round(seconds)} seconds`;
  if (seconds < 5400) return `${Math.round(seconds / 60)} minutes`;
  return `${(seconds / 3600).toFixed(1)} hours`;
}

/** `GBP 1,234.50`, as the server's sentences and papers write it (`domain::costs::amount_words`). */
export function showMoney(minor: number, currency: string): string {
  const places = { minimumFractionDigits: 2, maximumFractionDigits: 2 };
  const digits = (Math.abs(minor) / 100).toLocaleString("en-GB", places);
  return `${minor < 0 ? "−" : ""}${currency ? `${currency} ` : ""}${digits}`;
}

/** `1.57 %`, with as many places as it needs to say something. */
export function showShare(share: number): string {
  const percent = share * 100;
  if (percent === 0) return "0 %";
  return `${Number(percent.toPrecision(3))} %`;
}
