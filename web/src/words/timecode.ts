// Timecode labels of frame numbers, for showing only; sums over timecode are the server's.
// Mirrors `Rate::label` in server/domain/src/timecode.rs.

export interface FrameRate {
  /** Frames that a label's second has. */
  nominal: number;
  /** Exact frames a second. */
  exact: number;
  drop: boolean;
}

/** `25`, `23.976`, `29.97`, `29.97df`; null where it is none of these forms. */
export function readRate(name: string): FrameRate | null {
  const found = /^(\d+(?:\.\d+)?)(df)?$/.exec(name.trim());
  if (!found) return null;
  const said = Number(found[1]);
  const nominal = Math.ceil(said - 1e-9);
  if (nominal < 1) return null;
  const exact = said === nominal ? nominal : (nominal * 1000) / 1001;
  return { nominal, exact, drop: found[2] !== undefined };
}

/** `10:00:00:00`, with `;` before the frames in drop-frame. */
export function showTimecode(frame: number, rate: FrameRate): string {
  const n = rate.nominal;
  const d = rate.drop ? n / 15 : 0;
  const day = 86_400 * n - d * (1440 - 144);
  const inDay = ((frame % day) + day) % day;
  const ten = 600 * n - 9 * d;
  const tens = Math.floor(inDay / ten);
  const rest = inDay % ten;
  let count = inDay + 9 * d * tens;
  if (d > 0 && rest >= 60 * n) count += d * (Math.floor((rest - 60 * n) / (60 * n - d)) + 1);
  const seconds = Math.floor(count / n);
  const two = (value: number) => String(value).padStart(2, "0");
  const clock = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60].map(two);
  return `${clock.join(":")}${rate.drop ? ";" : ":"}${two(count % n)}`;
}

/** Frames as running time, rounded half up to whole seconds once. */
export function framesToSeconds(frames: number, rate: FrameRate): number {
  return Math.floor(frames / rate.exact + 0.5);
}
