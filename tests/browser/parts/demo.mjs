// The demonstration as a newcomer meets it: loaded by the server's own command, signed in with what that printed.
import { exact, fill, open, Person, password, press, see } from "../lib/browser.mjs";
import { assert, cornerstone, part, step, watchPages } from "../lib/runner.mjs";
import { Server } from "../lib/server.mjs";
import { issuing } from "./issuing.mjs";
import { lockweek } from "./lockweek.mjs";
import { pages } from "./pages.mjs";

/** Each of them stands for one fault that the job is about; the demonstration shows them all. */
const STATES = ["gap", "unknown source", "unknown", "not logged", "restricted", "covered"];

export async function demo(browser, wants) {
  part("The demonstration");
  const it = { browser, server: await Server.make() };
  try {
    await cornerstone("is loaded into an empty server by the command", () => load(it));
    await cornerstone("its printed sign-ins work", () => signIn(it));
    await step("Today leads to what is not cleared in the first episode", () => firstLook(it));
    await step("its clearance report has every state in it", () => everyState(it));
    if (wants("demo")) await pages(it, { name: "demo", series: it.series, episode: it.episode });
    await lockweek(it);
    await issuing(it);
    await it.ines.context.close();
    await step("a second load changes nothing and says so", () => again(it));
  } finally {
    await it.server.remove();
  }
}

async function load(it) {
  it.printed = await it.server.command("demo");
  assert(/demonstration is loaded/.test(it.printed), it.printed);
}

async function signIn(it) {
  const found = /series producer.*?\s(\S+@\S+)\s+(.+)/i.exec(it.printed);
  assert(found, `no sign-in of the series producer in:\n${it.printed}`);
  await it.server.start();
  it.ines = await Person.make(it.browser, it.server, "the series producer");
  watchPages([it.ines.page]);
  const { page } = it.ines;
  await page.goto("/sign-in");
  await fill(page, "E-mail", found[1]);
  await password(page).fill(found[2].trim());
  await press(page, "Sign in");
  await see(page.getByRole("heading", { level: 1, name: "Today" }));
}

async function firstLook(it) {
  const { page } = it.ines;
  const blocked = page.getByRole("main").getByRole("link", { name: /Episode 1: .* not cleared/ });
  await see(blocked);
  await blocked.first().click();
  await see(page.getByRole("heading", { level: 1, name: "Elements" }));
  it.series = /\/s\/([^/?]+)/.exec(page.url())[1];
  it.episode = new URL(page.url()).searchParams.get("episode");
  assert(it.episode, `no episode in ${page.url()}`);
  await see(page.getByText(/Not cleared: \d+ of \d+ elements/));
}

async function everyState(it) {
  const { page } = it.ines;
  await open(page, `/s/${it.series}/delivery/report?episode=${it.episode}`, "Clearance report");
  const table = page.getByRole("table", { name: /worst first/ });
  for (const state of STATES) await see(table.getByRole("cell", { name: new RegExp(`^${state}\\b`) }));
  await see(page.getByRole("heading", exact("Cautions")));
}

async function again(it) {
  await it.server.stop();
  const printed = await it.server.command("demo");
  assert(/there already; nothing was changed/.test(printed), printed);
}
