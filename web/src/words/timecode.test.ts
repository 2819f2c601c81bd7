// Labels against tests/outside/data/timecode-cases.json (SMPTE ST 12-1; checked there by two other programs).
import { readFileSync } from "node:fs";
import { resolve } from "node:path";
import { expect, test } from "vitest";
import { framesToSeconds, readRate, showTimecode } from "./timecode";

interface Case {
  id: string;
  kind: string;
  rate: { name: string; nominal: number; drop: boolean };
  label: string;
  frame: number;
}

const file = resolve(import.meta.dirname, "../../../tests/outside/data/timecode-cases.json");
const cases = (JSON.parse(readFileSync(file, "utf8")) as { cases: Case[] }).cases.filter(
  (one) => one.kind === "label",
);

test("there are cases", () => expect(cases.length).toBeGreaterThan(20));

test.each(cases)("$id: $label at $rate.name", ({ rate, label, frame }) => {
  const name = `${Number.parseFloat(rate.name)}${rate.drop ? "df" : ""}`;
  const read = readRate(name);
  expect(read?.nominal).toBe(rate.nominal);
  if (read) expect(showTimecode(frame, read)).toBe(label);
});

test("running time rounds half up once (rulebook R14: 795 frames at 25 are 32 s)", () => {
  const rate = readRate("25");
  if (!rate) throw new Error("25 is a rate");
  expect(framesToSeconds(795, rate)).toBe(32);
  expect(framesToSeconds(887, rate)).toBe(35);
  expect(framesToSeconds(3112, rate)).toBe(124);
});
