// Dates as people read and type them: `9 Jan 2029`, with the weekday where a deadline is meant.
// A date here is the text `YYYY-MM-DD`; sums over terms and time zones are the server's.

const months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const weekdays = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
const DAY = 86_400_000;

function split(date: string): [number, number, number] | null {
  const found = /^(\d{4})-(\d{2})-(\d{2})/.exec(date);
  if (!found) return null;
  return [Number(found[1]), Number(found[2]), Number(found[3])];
}

function exists(year: number, month: number, day: number): boolean {
  const at = new Date(Date.UTC(year, month - 1, day));
  return at.getUTCMonth() === month - 1 && at.getUTCDate() === day && year >= 1000 && year <= 9999;
}

/** `2029-01-09` → `9 Jan 2029`; empty for nothing, the text itself where it is no date. */
export function showDate(date: string | null | undefined): string {
  if (!date) return "";
  const parts = split(date);
  if (!parts) return date;
  return `${parts[2]} ${months[parts[1] - 1]} ${parts[0]}`;
}

/** `2029-01-09` → `Tue 9 Jan 2029`. */
export function showDeadline(date: string | null | undefined): string {
  if (!date) return "";
  const parts = split(date);
  if (!parts) return date;
  const weekday = new Date(Date.UTC(parts[0], parts[1] - 1, parts[2])).getUTCDay();
  return `${weekdays[weekday]} ${showDate(date)}`;
}

/** An instant in the reader's own zone: `9 Jan 2029, 14:05`. */
export function showInstant(instant: string | null | undefined): string {
  if (!instant) return "";
  const at = new Date(instant);
  if (Number.isNaN(at.getTime())) return instant;
  const clock = `${String(at.getHours()).padStart(2, "0")}:${String(at.getMinutes()).padStart(2, "0")}`;
  return `${at.getDate()} ${months[at.getMonth()]} ${at.getFullYear()}, ${clock}`;
}

/** Whole days from `from` to `to`; negative when `to` is earlier. */
export function daysBetween(from: string, to: string): number {
  const a = split(from);
  const b = split(to);
  if (!a || !b) return Number.NaN;
  return Math.round((Date.UTC(b[0], b[1] - 1, b[2]) - Date.UTC(a[0], a[1] - 1, a[2])) / DAY);
}

/** Today in the reader's own zone, as `YYYY-MM-DD`. */
export function today(): string {
  const now = new Date();
  return iso(now.getFullYear(), now.getMonth() + 1, now.getDate());
}

function iso(year: number, month: number, day: number): string {
  return `${year}-${String(month).padStart(2, "0")}-${String(day).padStart(2, "0")}`;
}

/** `in 12 days`, `today`, `3 days overdue`. */
export function showDistance(date: string, from = today()): string {
  const days = daysBetween(from, date);
  if (Number.isNaN(days)) return "";
  if (days === 0) return "today";
  if (days === 1) return "tomorrow";
  if (days > 0) return `in ${days} days`;
  return days === -1 ? "1 day overdue" : `${-days} days overdue`;
}

function monthNumber(word: string): number {
  const head = word.slice(0, 3).toLowerCase();
  return months.findIndex((month) => month.toLowerCase() === head) + 1;
}

/**
 * Reads what was typed: `9 Jan 2029`, `Tue 9 January 2029`, `9/1/2029`, `9.1.29`, `2029-01-09`.
 * The day comes first, as in Britain. Gives `YYYY-MM-DD`, or null where it is no date.
 */
export function readDate(typed: string): string | null {
  const text = typed.trim().replace(/^(mon|tue|wed|thu|fri|sat|sun)[a-z]*[ ,]+/i, "");
  let found = /^(\d{4})-(\d{1,2})-(\d{1,2})$/.exec(text);
  let parts: [number, number, number] | null = null;
  if (found) parts = [Number(found[1]), Number(found[2]), Number(found[3])];
  if (!parts) {
    found = /^(\d{1,2})(?:st|nd|rd|th)?[ -]?([a-z]{3,9})\.?[ ,-]*(\d{4}|\d{2})$/i.exec(text);
    if (found) parts = [fullYear(found[3]), monthNumber(found[2] ?? ""), Number(found[1])];
  }
  if (!parts) {
    found = /^(\d{1,2})[/. ](\d{1,2})[/. ](\d{4}|\d{2})$/.exec(text);
    if (found) parts = [fullYear(found[3]), Number(found[2]), Number(found[1])];
  }
  if (!parts || parts[1] < 1 || !exists(...parts)) return null;
  return iso(...parts);
}

function fullYear(digits: string | undefined): number {
  const year = Number(digits);
  return digits?.length === 2 ? 2000 + year : year;
}

/** Seconds as `58:00` or `1:02:30`. */
export function showLength(seconds: number): string {
  const whole = Math.round(seconds);
  const h = Math.floor(whole / 3600);
  const m = Math.floor((whole % 3600) / 60);
  const s = String(whole % 60).padStart(2, "0");
  return h ? `${h}:${String(m).padStart(2, "0")}:${s}` : `${m}:${s}`;
}

/** Running time against what is asked for (R29): `25 s over the 58:00 asked for`. */
export function overWords(seconds: number, asked: number): string {
  const over = Math.round(seconds) - asked;
  if (over === 0) return `as long as asked for, ${showLength(asked)}`;
  const much = Math.abs(over) < 60 ? `${Math.abs(over)} s` : showLength(Math.abs(over));
  return `${much} ${over > 0 ? "over" : "under"} the ${showLength(asked)} asked for`;
}

/** `58:00`, `1:02:30` or plain seconds → seconds; null where it is neither. */
export function readLength(typed: string): number | null {
  const text = typed.trim();
  if (/^\d+$/.test(text)) return Number(text);
  const found = /^(?:(\d+):)?(\d{1,2}):([0-5]\d)$/.exec(text);
  if (!found) return null;
  const minutes = Number(found[2]);
  if (found[1] !== undefined && minutes > 59) return null;
  return Number(found[1] ?? 0) * 3600 + minutes * 60 + Number(found[3]);
}

/** Bytes in decimal units, as drives are sold: `1.50 TB`. */
export function showBytes(bytes: number | null | undefined): string {
  if (bytes === null || bytes === undefined) return "";
  const units = ["bytes", "kB", "MB", "GB", "TB", "PB"];
  let value = bytes;
  let unit = 0;
  while (value >= 1000 && unit < units.length - 1) {
    value /= 1000;
    unit += 1;
  }
  return unit === 0 ? `${value} bytes` : `${value.toPrecision(3)} ${units[unit]}`;
}
