// Every page of the router at two widths and in both schemes: axe finds nothing, a phone has nothing to scroll sideways,
// the console is quiet; a picture of each goes to out/.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { see } from "../lib/browser.mjs";
import { assert, OUT, part, step } from "../lib/runner.mjs";

const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const ALL = { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"] };
/** What alone can differ between the schemes, which are the same page in other colours. */
const COLOURS = { type: "rule", values: ["color-contrast", "link-in-text-block"] };
const WIDTHS = [1280, 390];
const ROUTER = new URL("../../../web/src/app/router.tsx", import.meta.url).pathname;

/** The addresses that the router knows; pages in a series get its id. A page added there is walked here by itself. */
export function addresses() {
  const source = readFileSync(ROUTER, "utf8");
  const found = [...source.matchAll(/\b(open|own|page)\(\s*"([^"]+)",/g)];
  assert(found.length > 20, "the router's pages were not found in its source");
  return found.map(([, kind, path]) => ({ path, inSeries: kind === "page", signedOut: kind === "open" }));
}

export async function pages(it, { name, series, episode, all = true, more = [] }) {
  part(`Every page: ${name}`);
  const { page } = it.ines;
  const whole = (all ? addresses() : []).map(({ path, inSeries, signedOut }) => ({
    address: inSeries ? `/s/${series}${path === "/" ? "" : path}?episode=${episode}` : path,
    // The sign-in pages carry their token after the #; without it they say what is missing.
    title: `${signedOut || !inSeries ? "" : "series "}${path}`,
  }));
  for (const { address, title } of [...whole, ...more.map((one) => inOne(one, series, episode))]) {
    await step(`${title}`, () => onePage(it, page, `${name} ${title}`, address));
  }
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.emulateMedia({ colorScheme: "light" });
}

/** A view inside a page: a record that is open, a form, with the parameters of its address. */
function inOne([place, parameters], series, episode) {
  const search = new URLSearchParams({ episode, ...parameters });
  const words = Object.entries(parameters).map(([name, value]) => (value.length > 20 ? name : `${name} ${value}`));
  return { address: `/s/${series}/${place}?${search}`, title: `${place}, ${words.join(", ")}` };
}

async function onePage(it, page, name, address) {
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.emulateMedia({ colorScheme: "light", reducedMotion: "reduce" });
  await page.goto(address);
  const faults = [];
  for (const width of WIDTHS) {
    await page.setViewportSize({ width, height: 900 });
    await settled(page, "light");
    // As tall as the page, so that nothing lies under the buttons that stay at the foot of a phone.
    const height = await page.evaluate(() => document.documentElement.scrollHeight);
    await page.setViewportSize({ width, height: Math.min(Math.max(height, 900), 9000) });
    for (const scheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme: scheme, reducedMotion: "reduce" });
      await settled(page, scheme);
      const file = `${name.replace(/[^a-z0-9]+/gi, "-").replace(/-$/, "")}-${width}-${scheme}.png`;
      await page.screenshot({ path: join(OUT, file), fullPage: true });
      const found = await violations(page, scheme === "light" ? ALL : COLOURS);
      faults.push(...found.map((fault) => `${width} ${scheme}: ${fault}`));
    }
    await page.emulateMedia({ colorScheme: "light", reducedMotion: "reduce" });
    if (width === 390) {
      const wide = await page.evaluate(tooWide);
      if (wide) faults.push(`390: scrolls sideways: ${wide}`);
    }
  }
  assert(faults.length === 0, `${address}\n${faults.join("\n")}`);
  it.ines.noFaults();
}

/** Read, and at rest: nothing waits, no motion runs. */
async function settled(page, scheme) {
  await see(page.getByRole("heading", { level: 1 }));
  await page.waitForFunction((wanted) => {
    if (document.documentElement.dataset.mantineColorScheme !== wanted) return false;
    const waits = [...document.querySelectorAll("output")].some((one) => /^\s*Reading /.test(one.textContent ?? ""));
    const moves = document.getAnimations().some((one) => one.playState === "running");
    return !waits && !moves && document.fonts.status === "loaded";
  }, scheme);
}

async function violations(page, runOnly) {
  await page.evaluate(`if (!window.axe) { ${AXE} }`);
  const found = await page.evaluate(
    (only) =>
      window.axe
        .run(document, { runOnly: only, resultTypes: ["violations"] })
        .then(({ violations: list }) =>
          list.map(({ id, nodes }) => {
            const first = nodes[0];
            return `${id} (${nodes.length}): ${first.html.slice(0, 160)} ${first.any[0]?.message ?? first.failureSummary ?? ""}`;
          }),
        ),
    runOnly,
  );
  return found;
}

/** In the page: what sticks out, when the document is wider than the window. */
function tooWide() {
  const room = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= room) return null;
  const sticks = [...document.querySelectorAll("main *, header *")].find((one) => {
    if (one.getBoundingClientRect().right <= room + 1) return false;
    for (let up = one.parentElement; up; up = up.parentElement) {
      if (["auto", "scroll", "hidden"].includes(getComputedStyle(up).overflowX)) return false;
    }
    return true;
  });
  return sticks ? sticks.outerHTML.slice(0, 200) : "the document";
}
