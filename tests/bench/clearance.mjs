#!/usr/bin/env node
// How long a clearance takes through the running server, and whether it is right: a 90-minute episode of 3,000 events,
// 800 elements and 3,000 grants, asked for 249 territories × 15 media × 20 years; then the report as PDF; then what it
// costs with 100, 1,000 and 10,000 elements. Figures mean something on an idle machine and with optimised programs:
//
//   deploy/run build   (or: cargo build --profile deploy --workspace --bins)
//   WAYBILL_PROGRAMS=target/deploy tests/bench/clearance.mjs
//
// It stands beside the same rows read by psql in the same run, since a figure alone says little of another machine.
import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { loadavg, tmpdir } from "node:os";
import { join } from "node:path";

// Pages are not asked for; the server wants a folder for them.
if (!process.env.WAYBILL_WEB) {
  process.env.WAYBILL_WEB = mkdtempSync(join(tmpdir(), "waybill-bench-web-"));
  writeFileSync(join(process.env.WAYBILL_WEB, "index.html"), "<!doctype html><title>bench</title>");
}
const { Server } = await import("../browser/lib/server.mjs");
const { Api, COUNTRIES, makeEpisode, NEED, psql } = await import("./episode.mjs");

const SIZES = process.argv.slice(2).map(Number);
const sizes = SIZES.length ? SIZES : [100, 1_000, 10_000];
const TABLE = new URL("../outside/data/territories.json", import.meta.url);
const CODES = JSON.parse(readFileSync(TABLE, "utf8")).territories.map((one) => one.alpha2);

const sorted = (times) => [...times].sort((a, b) => a - b);
const median = (times) => sorted(times)[times.length >> 1];
const said = (times) =>
  `median ${median(times).toFixed(0)} ms, slowest ${sorted(times).at(-1).toFixed(0)} ms of ${times.length} (load ${loadavg()[0].toFixed(1)})`;

async function timed(act) {
  const began = performance.now();
  const value = await act();
  return { value, ms: performance.now() - began };
}

/** Milliseconds of processor time that the server itself has used so far: what waiting for others does not touch. */
function used(server) {
  const fields = readFileSync(`/proc/${server.child.pid}/stat`, "utf8").split(") ").at(-1).split(" ");
  return (Number(fields[11]) + Number(fields[12])) * 10;
}

/** Changes one grant of a paper: its first term is another. */
async function changeAGrant(api, it, n) {
  const papers = it.asked.filter((one) => one.kind === "licences");
  const one = papers[n % papers.length];
  const path = it.at(`licences/${one.paper}`);
  one.body.grants[0].term = n % 2 ? "perpetuity" : { to: "2047-06-30" };
  one.version = (one.version ?? 1) + 1;
  await api.json("PUT", path, one.body, { "if-match": `"${one.version - 1}"` });
}

async function answers(api, it, times) {
  const out = [];
  let last;
  let cpu = 0;
  for (let n = 0; n < times; n++) {
    await changeAGrant(api, it, n);
    const before = used(server);
    const { value, ms } = await timed(() => api.json("GET", it.at(`episodes/${it.episode}/clearance`)));
    cpu += used(server) - before;
    out.push(ms);
    last = value;
  }
  return { times: out, answer: last, cpu: cpu / times };
}

/** What psql needs for the same rows: the reading part without anybody's work on it. */
async function readByPsql(sql, it) {
  const of = (table) => `select * from ${table} where series_id = '${it.series}'`;
  const tables = ["files", "log_entries", "people", "assets", "music", "releases", "licences"].map(of);
  const all = [`select * from cut_events where cut_id = '${it.cut}' order by position`, ...tables];
  const out = await sql(["\\timing on", ...all], "-o", "/dev/null");
  const times = [...out.matchAll(/^Time: ([\d.]+) ms/gm)].map((found) => Number(found[1]));
  if (times.length < all.length) throw new Error("psql told no times");
  return times.reduce((a, b) => a + b, 0);
}

// ——— The count by hand: every cell, every day, from the grants as they were sent ———

const DAY = 86_400_000;
const day = (text) => Math.round(Date.parse(`${text}T00:00:00Z`) / DAY);
const FIRST = day(NEED.from);
const DAYS = day(NEED.to) - FIRST + 1;

/** The day before the corresponding date (counted from and including the first day). */
function endOfMonths(start, months) {
  const [year, month, date] = start.split("-").map(Number);
  return Math.round(Date.UTC(year, month - 1 + months, date) / DAY) - 1;
}

function holds(grant) {
  const from = day(grant.starts);
  const { term } = grant;
  const to = term === "perpetuity" ? Number.MAX_SAFE_INTEGER : "to" in term ? day(term.to) : endOfMonths(grant.starts, term.months);
  return [from, to];
}

const includes = (names, medium) => names.some((name) => name === "all" || medium === name || medium.startsWith(`${name}.`));
const covers = (grant, territory, medium) =>
  (grant.territories.includes("WORLD") || grant.territories.includes(territory)) &&
  !grant.territories_except.includes(territory) &&
  includes(grant.media, medium) &&
  !includes(grant.media_except, medium);

/** Days of a cell on which some requirement is not met, counted one by one. */
function gapsByHand(requirements, territory, medium) {
  let gaps = 0;
  const here = requirements.map((list) => list.filter((grant) => covers(grant, territory, medium)).map(holds));
  for (let n = 0; n < DAYS; n++) {
    const today = FIRST + n;
    if (here.some((list) => !list.some(([from, to]) => from <= today && today <= to))) gaps += 1;
  }
  return gaps;
}

function checkByHand(it, answer, elements, perElement) {
  const media = [...new Set(answer.elements.flatMap((one) => one.cells.flatMap((cell) => cell.media)))];
  if (media.length !== 15 || CODES.length !== 249) throw new Error(`${media.length} media, ${CODES.length} territories`);
  const step = Math.max(1, Math.floor(answer.elements.length / elements));
  let compared = 0;
  let failing = 0;
  for (let n = 0; n < answer.elements.length; n += step) {
    const one = answer.elements[n];
    const behind = it.asked.filter((paper) => paper.element === one.id);
    if (behind.length === 0) throw new Error(`nothing behind ${one.label}`);
    const needs = [...new Set(behind.map((paper) => paper.needs))];
    const requirements = needs.map((need) => behind.filter((paper) => paper.needs === need).flatMap((paper) => paper.body.grants));
    for (let k = 0; k < perElement; k++) {
      // Every country that a grant names, and others between them.
      const territory = COUNTRIES[k] ?? CODES[(n * 31 + k * 17) % CODES.length];
      for (const medium of media) {
        const cells = one.cells.filter(
          (cell) => cell.media.includes(medium) && (cell.territories.includes("WORLD") || cell.territories.includes(territory)),
        );
        if (cells.length !== 1) throw new Error(`${one.label}: ${territory} × ${medium} stands in ${cells.length} groups`);
        const answered = cells[0].gaps.reduce((sum, days) => sum + day(days.to) - day(days.from) + 1, 0);
        const counted = gapsByHand(requirements, territory, medium);
        if (answered !== counted || cells[0].unknown.length > 0) {
          throw new Error(`${one.label}: ${territory} × ${medium}: answered ${answered} days, counted ${counted}`);
        }
        compared += 1;
        failing += counted > 0 ? 1 : 0;
      }
    }
  }
  return { compared, failing };
}

async function theFigure(api, sql) {
  const it = await makeEpisode(api, sql, 800, 3_000);
  const grants = it.asked.reduce((sum, one) => sum + one.body.grants.length, 0);
  console.log(`episode: 3,000 events, 800 elements, ${grants.toLocaleString("en-GB")} grants; need: 249 territories × 15 media × ${DAYS} days`);
  await answers(api, it, 3);
  const { times, answer, cpu } = await answers(api, it, 15);
  if (answer.elements.length !== 800) throw new Error(`${answer.elements.length} elements`);
  const peer = [];
  for (let n = 0; n < 5; n++) peer.push(await readByPsql(sql, it));
  console.log(`answer after a changed grant, over HTTP: ${said(times)}; ${cpu.toFixed(0)} ms of processor in the server`);
  console.log(`  the same rows by psql: ${said(peer)}; ratio ${(median(times) / median(peer)).toFixed(1)}`);
  const size = JSON.stringify(answer).length;
  console.log(`  ${(size / 1e6).toFixed(2)} MB of JSON; states ${JSON.stringify(answer.counts)}`);
  const { compared, failing } = checkByHand(it, answer, 80, 24);
  console.log(`  correct: ${compared} cells counted day by day, ${failing} of them with gaps, all alike`);
  // Counting kept this process busy; let it see which connections the server closed meanwhile.
  await new Promise((done) => setTimeout(done, 100));
  const pdf = [];
  let bytes = 0;
  const before = used(server);
  for (let n = 0; n < 5; n++) {
    const { value, ms } = await timed(async () => (await api.send("GET", it.at(`episodes/${it.episode}/report.pdf`))).arrayBuffer());
    pdf.push(ms);
    bytes = value.byteLength;
  }
  console.log(`report as PDF, over HTTP: ${said(pdf)}; ${(bytes / 1e6).toFixed(2)} MB; ${((used(server) - before) / 5).toFixed(0)} ms of processor`);
}

async function theSlope(api, sql) {
  const found = [];
  for (const elements of sizes) {
    const it = await makeEpisode(api, sql, elements, elements * 2);
    await answers(api, it, 1);
    const { times, cpu } = await answers(api, it, 5);
    const ms = median(times);
    found.push(ms / elements);
    console.log(
      `${elements.toLocaleString("en-GB")} elements: ${said(times)}; ${((ms * 1000) / elements).toFixed(0)} µs an element, of which ` +
        `${((cpu * 1000) / elements).toFixed(0)} µs of processor in the server`,
    );
  }
  const least = Math.min(...found.slice(0, -1));
  if (found.length > 1) console.log(`cost of one element at the largest, to the least before: ${(found.at(-1) / least).toFixed(2)}`);
}

const server = await Server.make();
try {
  await server.start();
  const api = new Api(server.url);
  await api.setUp(await server.setUpLink());
  const sql = psql(server);
  await theFigure(api, sql);
  await theSlope(api, sql);
} finally {
  await server.remove();
}
