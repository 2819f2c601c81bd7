// Captions against confirmed names, a paper issued to the broadcaster, and the broadcaster's contact who finds it.
import { readFile } from "node:fs/promises";
import { choose, downloaded, exact, fill, gone, open, Person, password, press, see } from "../lib/browser.mjs";
import { assert, part, step } from "../lib/runner.mjs";

const at = (it, place) => `/s/${it.series}/${place}?episode=${it.episode}`;
const messages = (page) => page.getByRole("region", exact("Messages"));
const CONTACT = "delivery@lantern-six.example";
const NOTE = "As agreed on the telephone.";

export async function issuing(it) {
  const { page } = it.ines;
  part("Captions and issuing");
  await step("pasted captions find their people; a misspelt name is said letter by letter", () => captions(it, page));
  await step("a caption is put right in place, taken out and brought back", () => putRight(it, page));
  await step("a credit list is issued to the broadcaster, with a word for them", () => issue(it, page));
  it.ines.noFaults();
  const contact = await Person.make(it.browser, it.server, "the delivery contact");
  await step("the contact is told by mail that it is there, and nothing of what it says", () => told(it));
  await step("the contact signs in, sees what was issued and takes it away as it was sent", () => receive(it, contact));
  await step("the contact sees nothing else of the series", () => nothingElse(it, contact));
  await step("what was sent in error is taken back, and gone for the contact", () => takeBack(it, page, contact));
  await contact.context.close();
}

async function captions(it, page) {
  await open(page, at(it, "clearance/captions"), "Captions");
  await press(page, "Paste captions, or take the cut's titles");
  const lines = ["10:00:10:00 | 10:00:13:00 | Wren Sallowfeld | Cox", "10:00:20:00 | 10:00:23:00 | The slipway, 1954"];
  await fill(page, "A caption to a line", lines.join("\n"));
  await press(page, "Add these captions");
  const table = page.getByRole("table", { name: /Captions in the order/ });
  await see(table.getByRole("row", { name: /Wren Sallowfeld.*not said/ }));
  await press(page, "Change the caption at 10:00:10:00");
  await choose(page, page, "Whom it names", "Wren Sallowfield");
  await press(page, "Save the caption");
  await see(table.getByText(/The caption says “Wren Sallowfeld”; the name as credited is “Wren Sallowfield”/));
  await press(page, "Change the caption at 10:00:20:00");
  await page.getByRole("checkbox", { name: /^Names nobody/ }).check();
  await press(page, "Save the caption");
  await see(table.getByRole("row", { name: /The slipway, 1954.*nobody/ }));
}

async function putRight(_it, page) {
  const table = page.getByRole("table", { name: /Captions in the order/ });
  await press(page, "Change the caption at 10:00:10:00");
  await fill(page, "On screen", "Wren Sallowfield\nCox");
  await press(page, "Save the caption");
  await see(table.getByRole("row", { name: /Wren Sallowfield Cox/ }));
  await gone(table.getByText(/the name as credited is/));
  await press(page, "Take out the caption at 10:00:20:00");
  await see(messages(page).getByText("The caption was taken out."));
  await gone(table.getByText("The slipway, 1954"));
  await messages(page).getByRole("button", exact("Undo")).last().click();
  await see(table.getByText("The slipway, 1954"));
}

async function issue(it, page) {
  await open(page, at(it, "delivery/papers"), "Papers");
  await choose(page, page, "Paper", "Credit list");
  await press(page, "Issue to the broadcaster");
  await choose(page, page, "As", "CSV");
  await fill(page, "Said with it", NOTE);
  await press(page, "Issue it");
  await see(page.getByText(/^Issued as .*\.csv; it stands under/));
}

async function told(it) {
  const mail = await it.server.mail(CONTACT, "Credit list of episode 1");
  assert(mail.includes(`/s/${it.series}/delivery/issued`), "the mail leads nowhere");
  assert(!mail.includes(NOTE) && !mail.includes("Wren"), "the mail says what is in the paper");
}

async function receive(it, contact) {
  const { page } = contact;
  await page.goto("/sign-in");
  const [, secret] = new RegExp(`${CONTACT}\\s+(.+)`).exec(it.printed);
  await fill(page, "E-mail", CONTACT);
  await password(page).fill(secret.trim());
  await press(page, "Sign in");
  await see(page.getByRole("heading", { level: 1, name: "Today" }));
  await open(page, `/s/${it.series}/delivery/issued`, "Issued");
  const row = page.getByRole("table", { name: /Issued papers/ }).getByRole("row", { name: /credit list/i }).first();
  await see(row.getByText(NOTE));
  const file = await downloaded(page, row.getByRole("link"));
  const text = await readFile(await file.path(), "utf8");
  assert(text.includes("Wren Sallowfield"), "the paper lacks the people's names");
  assert((await row.getByRole("button", { name: /^Take back/ }).count()) === 0, "a contact can take papers back");
  contact.noFaults(/403/);
}

async function nothingElse(it, contact) {
  const { page } = contact;
  await page.goto(at(it, "shoot/releases"));
  await see(page.getByText(/role|not allowed|may not/i));
  contact.noFaults(/403/);
}

async function takeBack(it, page, contact) {
  await open(page, `/s/${it.series}/delivery/issued`, "Issued");
  const row = page.getByRole("row", { name: new RegExp(NOTE) });
  await row.getByRole("button", { name: /^Take back/ }).click();
  await see(row.getByText(/Taken back by/));
  await it.server.mail(CONTACT, "was taken back");
  await open(contact.page, `/s/${it.series}/delivery/issued`, "Issued");
  await gone(contact.page.getByText(NOTE));
  it.ines.noFaults();
}
