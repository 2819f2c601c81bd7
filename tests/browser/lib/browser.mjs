// Debian's Chromium through playwright-core, and how a person does things on a page: by roles and words only.
import { chromium } from "playwright-core";
import { assert } from "./runner.mjs";

const SLOW = Number(process.env.WAYBILL_WAIT_SECONDS ?? 15) * 1000;

export function launch() {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-dev-shm-usage", "--font-render-hinting=none"],
  });
}

/** One person's browser: pages share cookies; every fault in the console is noted. */
export class Person {
  static async make(browser, server, name) {
    const person = new Person();
    person.name = name;
    person.server = server;
    person.faults = [];
    person.context = await browser.newContext({
      baseURL: server.url,
      locale: "en-GB",
      timezoneId: "Europe/London",
      viewport: { width: 1280, height: 900 },
      acceptDownloads: true,
    });
    person.context.setDefaultTimeout(SLOW);
    person.page = await person.context.newPage();
    person.page.on("pageerror", (error) => person.faults.push(`${person.page.url()}: ${error}`));
    person.page.on("console", (line) => {
      if (line.type() === "error") person.faults.push(`${person.page.url()}: ${line.text()}`);
    });
    return person;
  }

  /** Faults since the last call; those that fit `expected` are what the step itself provoked. */
  takeFaults(expected) {
    const faults = this.faults.filter((fault) => !expected?.test(fault));
    this.faults = [];
    return faults;
  }

  noFaults(expected) {
    const faults = this.takeFaults(expected);
    assert(faults.length === 0, `faults in the console of ${this.name}:\n${faults.join("\n")}`);
  }
}

export const exact = (name) => ({ name, exact: true });
const seen = (locator) => locator.filter({ visible: true }).first();
export const see = (locator) => seen(locator).waitFor({ state: "visible" });
export const gone = (locator) => seen(locator).waitFor({ state: "hidden" });

/** Types into a field by its label. */
export const fill = (scope, label, text) => scope.getByRole("textbox", exact(label)).fill(text);

/** A field for a password has no role of its own. */
export const password = (scope, label = "Password") => scope.getByLabel(new RegExp(`^${label}`)).first();

/** Chooses from a list that opens. */
export async function choose(page, scope, label, option) {
  await scope.getByRole("combobox", exact(label)).click();
  await page.getByRole("option", exact(option)).click();
}

/** Chooses several from a list that stays open. */
export async function chooseMany(page, scope, label, options) {
  const field = scope.getByRole("combobox", exact(label));
  for (const option of options) {
    await field.click();
    // A short list is not searched by typing.
    if (await field.isEditable()) await field.fill(option);
    await page.getByRole("option", exact(option)).click();
  }
  await field.press("Escape");
}

export const press = (scope, name) => scope.getByRole("button", exact(name)).click();

/** Presses the button that opens the file chooser, and chooses this file. */
export async function upload(page, scope, button, name, mimeType, buffer) {
  const [chooser] = await Promise.all([page.waitForEvent("filechooser"), press(scope, button)]);
  await chooser.setFiles({ name, mimeType, buffer });
}

/** Clicks what starts a download; answers the file. */
export async function downloaded(page, link) {
  const [download] = await Promise.all([page.waitForEvent("download"), link.click()]);
  return download;
}

/** Goes to an address of a series and waits for its heading. */
export async function open(page, address, title) {
  await page.goto(address);
  await see(page.getByRole("heading", { level: 1, name: title }));
}

/** The record that is open, as the address says. */
export const openOne = (page) => new URL(page.url()).searchParams.get("record");

/** The form of a new record of this kind, or of the open one. */
export const beside = (page, one) => page.getByRole("region", exact(`The open ${one}`));

/** Saves the form beside the list and waits for the word of it. */
export async function save(page, one) {
  await press(beside(page, one), "Save");
  await see(page.getByRole("region", exact("Messages")).getByText("Saved."));
  await press(page.getByRole("region", exact("Messages")), "Dismiss");
  await see(beside(page, one).getByRole("button", exact("Edit")));
}

/** Tabs until the element is focused; answers how many keys it took. */
export async function tabTo(page, locator, most = 120) {
  await see(locator);
  for (let keys = 0; keys < most; keys += 1) {
    if (await locator.first().evaluate((element) => element === document.activeElement)) return keys;
    await page.keyboard.press("Tab");
  }
  throw new Error(`Tab does not reach ${locator}`);
}
