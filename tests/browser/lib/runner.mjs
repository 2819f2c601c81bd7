// A runner for steps that build on each other, as a person's day does: each step has a name, a time limit and a
// picture when it fails; later steps run all the same and say for themselves whether they can.
import { mkdirSync, rmSync } from "node:fs";
import { join } from "node:path";

export const OUT = new URL("../out/", import.meta.url).pathname;
const LIMIT = Number(process.env.WAYBILL_STEP_SECONDS ?? 45) * 1000;

let passed = 0;
const failures = [];
let watched = [];

export function prepareOut() {
  rmSync(OUT, { recursive: true, force: true });
  mkdirSync(OUT, { recursive: true });
}

/** The pages of which a failing step takes pictures. */
export function watchPages(pages) {
  watched = pages;
}

/** Thrown when going on would only repeat one fault many times. */
export class Stop extends Error {}

/** A step without which the rest of the run makes no sense. */
export async function cornerstone(name, act) {
  if (!(await step(name, act))) throw new Stop(name);
}

/** Runs one step; a failure is printed and counted, and does not stop the run. */
export async function step(name, act) {
  const began = Date.now();
  let timer;
  const tooLong = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new Error(`took longer than ${LIMIT / 1000} s`)), LIMIT);
  });
  try {
    await Promise.race([act(), tooLong]);
    passed += 1;
    console.log(`  ok    ${name} (${((Date.now() - began) / 1000).toFixed(1)} s)`);
    return true;
  } catch (error) {
    failures.push(name);
    console.log(`  FAIL  ${name}\n${indent(error)}`);
    await pictures(name);
    if (process.env.WAYBILL_STOP) throw new Stop(name);
    return false;
  } finally {
    clearTimeout(timer);
  }
}

function indent(error) {
  const words = error instanceof Error ? (error.stack ?? error.message) : String(error);
  return words
    .split("\n")
    .filter((line) => !line.includes("node_modules"))
    .slice(0, 24)
    .map((line) => `        ${line}`)
    .join("\n");
}

async function pictures(name) {
  for (const [index, page] of watched.entries()) {
    if (page.isClosed()) continue;
    const file = join(OUT, `failed-${name.replace(/[^a-z0-9]+/gi, "-").slice(0, 60)}-${index + 1}.png`);
    await page.screenshot({ path: file, timeout: 5000 }).catch(() => {});
    console.log(`        at ${page.url()}, picture in ${file}`);
  }
}

export function part(name) {
  console.log(`\n${name}`);
}

/** Prints what failed and the line that tests/run counts. */
export function summary() {
  if (failures.length > 0) console.log(`\nFailed:\n${failures.map((name) => `  ${name}`).join("\n")}`);
  console.log(`\n${passed} passed, ${failures.length} failed`);
  return failures.length === 0;
}

export function assert(condition, words) {
  if (!condition) throw new Error(words);
}

/** Asks until the answer is truthy; for things outside a page, where no locator can wait. */
export async function until(what, ask, limit = 20_000) {
  const end = Date.now() + limit;
  for (;;) {
    const answer = await ask();
    if (answer) return answer;
    if (Date.now() > end) throw new Error(`waited ${limit / 1000} s in vain for ${what}`);
    await new Promise((go) => setTimeout(go, 100));
  }
}
