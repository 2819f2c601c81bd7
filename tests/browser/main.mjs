// The whole walk: one server, one browser, the parts in the order of the job.
//
//   node main.mjs            everything
//   node main.mjs NAME…      only: beginning (always runs), chain, lists, team, keyboard, pages, demo, lockweek, outage
import { launch, Person } from "./lib/browser.mjs";
import { cornerstone, part, prepareOut, Stop, step, summary, watchPages } from "./lib/runner.mjs";
import { Server } from "./lib/server.mjs";
import { beginning } from "./parts/beginning.mjs";
import { chain } from "./parts/chain.mjs";
import { demo } from "./parts/demo.mjs";
import { keyboard } from "./parts/keyboard.mjs";
import { lists } from "./parts/lists.mjs";
import { pages } from "./parts/pages.mjs";
import { audit, outage, team } from "./parts/team.mjs";

const wanted = process.argv.slice(2);
const wants = (name) => wanted.length === 0 || wanted.includes(name);

function inDays(days) {
  const day = new Date(Date.now() + days * 86_400_000);
  return day.toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric" }).replace("Sept", "Sep");
}

/** Records, forms and reasons that open inside a page. */
const views = (it) => [
  ["shoot/people", { record: it.person }],
  ["shoot/people", { record: it.person, edit: "yes" }],
  ["shoot/people", { record: "new" }],
  ["shoot/days", { record: "new" }],
  ["shoot/releases", { record: it.release }],
  ["shoot/releases", { record: it.release, edit: "yes" }],
  ["clearance/licences", { record: it.licence, edit: "yes" }],
  ["clearance/licences", { record: "new" }],
  ["clearance/elements", { record: it.element }],
  ["cut/strip", { record: "2" }],
  ["footage/find", { record: it.file }],
  ["footage/find", { q: "nothing of that name" }],
  ["delivery/specifications", { record: it.specification, edit: "yes" }],
  ["delivery/deliverables", { record: it.deliverable }],
  ...(it.upload ? [["team/bring-in", { kind: "people", upload: it.upload }]] : []),
];

async function walk(it) {
  await beginning(it);
  if (wants("chain")) await chain(it);
  if (wants("lists")) await lists(it);
  if (wants("team")) {
    await team(it);
    await audit(it);
  }
  if (wants("keyboard")) await keyboard(it);
  if (wants("pages")) await pages(it, { name: "own", series: it.series, episode: it.episode, all: !wants("demo"), more: views(it) });
  if (wants("outage")) await outage(it);
}

prepareOut();
const it = { people: [], soon: inDays(12) };
try {
  part("The server");
  await cornerstone("starts with a private PostgreSQL in an empty folder", async () => {
    it.server = await Server.make();
    await it.server.start();
    it.browser = await launch();
    it.ines = await Person.make(it.browser, it.server, "Ines");
    it.people.push(it.ines);
    watchPages(it.people.map(({ page }) => page));
  });
  await walk(it);
  if (wants("demo") || wants("lockweek")) await demo(it.browser, wants);
} catch (error) {
  if (!(error instanceof Stop)) throw error;
  console.log(`\nThe run ends here: nothing further works without this step.`);
} finally {
  await it.browser?.close();
  if (it.server) {
    await step("the server stops when it is asked to", () => it.server.stop());
    if (process.env.WAYBILL_KEEP) console.log(`kept: ${it.server.folder}`);
    else await it.server.remove();
  }
}
process.exitCode = summary() ? 0 : 1;
