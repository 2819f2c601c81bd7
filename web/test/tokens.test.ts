// Contrast of the tokens, by the formula of WCAG 2.2 (relative luminance): text 4.5:1 (1.4.3), controls 3:1 (1.4.11).
import { readFileSync } from "node:fs";
import { resolve } from "node:path";
import { expect, test } from "vitest";

const css = readFileSync(resolve(import.meta.dirname, "../src/tokens.css"), "utf8");

function tokensOf(scheme: "light" | "dark"): Record<string, string> {
  const start = css.indexOf(`:root[data-mantine-color-scheme="${scheme}"] {`);
  const block = css.slice(start, css.indexOf("}", start));
  return Object.fromEntries(
    [...block.matchAll(/--([\w-]+):\s*(#[0-9a-f]{6})/g)].map((found) => [found[1], found[2]]),
  );
}

function luminance(hex: string): number {
  const [r = 0, g = 0, b = 0] = [1, 3, 5].map((at) => {
    const value = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
    return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(a: string, b: string): number {
  const [high = 0, low = 0] = [luminance(a), luminance(b)].toSorted((x, y) => y - x);
  return (high + 0.05) / (low + 0.05);
}

test("the formula gives 21 for black on white", () => {
  expect(contrast("#000000", "#ffffff")).toBeCloseTo(21, 5);
});

const text = ["ink", "ink-2", "tide", "brick", "ochre", "slate"];
const grounds = ["ground", "ground-2"];

for (const scheme of ["light", "dark"] as const) {
  const tokens = tokensOf(scheme);
  const colour = (name: string) => {
    const value = tokens[name];
    if (!value) throw new Error(`no token ${name} in the ${scheme} scheme`);
    return value;
  };
  for (const name of text) {
    for (const ground of grounds) {
      test(`${scheme}: ${name} on ${ground}`, () => {
        expect(contrast(colour(name), colour(ground))).toBeGreaterThanOrEqual(4.5);
      });
    }
  }
  test(`${scheme}: text of a filled button, edges, washes`, () => {
    expect(contrast(colour("on-tide"), colour("tide"))).toBeGreaterThanOrEqual(4.5);
    expect(contrast(colour("on-tide"), colour("tide-strong"))).toBeGreaterThanOrEqual(4.5);
    expect(contrast(colour("edge"), colour("ground"))).toBeGreaterThanOrEqual(3);
    for (const wash of ["tide-wash", "brick-wash", "ochre-wash", "slate-wash"]) {
      expect(contrast(colour("ink"), colour(wash))).toBeGreaterThanOrEqual(4.5);
    }
  });
}
