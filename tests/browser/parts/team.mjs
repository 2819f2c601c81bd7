// A second person: invited by mail, joins as editor, and is told what an editor may not do. Then the server goes away.
import { Person, chooseMany, exact, fill, gone, open, password, press, see } from "../lib/browser.mjs";
import { assert, part, step, until } from "../lib/runner.mjs";
import { PASSWORD } from "./beginning.mjs";

const EDITOR = "tam@harbour.example";
const at = (it, place) => `/s/${it.series}/${place}`;

export async function team(it) {
  const { page } = it.ines;
  part("The team");
  await step("an editor is invited, and the mail holds the link", async () => {
    await open(page, at(it, "team/members"), "Members");
    await fill(page, "E-mail", EDITOR);
    await chooseMany(page, page, "Roles", ["editor"]);
    await press(page, "Send the invitation");
    await see(page.getByText(`An invitation is on its way to ${EDITOR}.`));
    const mail = await it.server.mail(EDITOR, "/invitation#");
    it.invitation = /http\S+\/invitation#[\w.~-]+/.exec(mail)[0];
  });
  await step("the editor joins in another browser and sees the series", async () => {
    it.tam = await Person.make(it.browser, it.server, "Tam");
    it.people.push(it.tam);
    const theirs = it.tam.page;
    await theirs.goto(it.invitation);
    await fill(theirs, "Your name", "Tam Okoro");
    await password(theirs).fill(`${PASSWORD} rings`);
    await press(theirs, "Join");
    await see(theirs.getByRole("main").getByRole("link", { name: /Ebb and Oar/ }));
  });
  await step("what an editor may not do is said in a sentence", async () => {
    const theirs = it.tam.page;
    await open(theirs, at(it, "team/episodes"), "Episodes");
    const button = theirs.getByRole("button", exact("New episode"));
    assert(await button.isDisabled(), "an editor can make episodes");
    assert(/None of your roles/.test(await button.getAttribute("title")), "no reason is given");
    await theirs.goto(at(it, "clearance/licences"));
    await see(theirs.getByText(/role|not allowed|may not/i));
    it.tam.noFaults(/403/);
  });
  await step("a series of others, and an address that leads nowhere, say so", async () => {
    const theirs = it.tam.page;
    await theirs.goto("/s/00000000-0000-7000-8000-000000000000");
    await see(theirs.getByRole("heading", { name: "You have no part in this series" }));
    await theirs.goto("/nowhere/at/all");
    await see(theirs.getByRole("heading", { name: "There is no page at this address" }));
    it.tam.noFaults(/40[34]/);
  });
  await step("a password is reset by mail", async () => {
    const theirs = it.tam.page;
    await it.tam.context.clearCookies();
    await theirs.goto("/forgotten");
    await fill(theirs, "E-mail", EDITOR);
    await press(theirs, "Send the link");
    const mail = await it.server.mail(EDITOR, "/reset#");
    await theirs.goto(/http\S+\/reset#[\w.~-]+/.exec(mail)[0]);
    await password(theirs).fill("a quite different tide table");
    await press(theirs, "Keep this password");
    await theirs.getByRole("link", exact("Sign in with it")).click();
    await fill(theirs, "E-mail", EDITOR);
    await password(theirs).fill("a quite different tide table");
    await press(theirs, "Sign in");
    await see(theirs.getByRole("heading", { level: 1, name: "Today" }));
    it.tam.noFaults(/401/);
  });
}

export async function outage(it) {
  const { page } = it.ines;
  part("When the server goes away");
  await step("the page says so, keeps what was typed, and goes on when it is back", async () => {
    await open(page, at(it, `shoot/people?record=${it.person}&edit=yes`), "People");
    const form = page.getByRole("region", exact("The open person"));
    await fill(form, "Language", "Norn");
    await it.server.stop();
    await press(form, "Save");
    const notice = page.getByRole("alert").getByText(/Nothing is being saved/);
    await see(notice);
    assert((await form.getByRole("textbox", exact("Language")).inputValue()) === "Norn", "what was typed is lost");
    await it.server.start();
    await gone(notice);
    await press(form, "Save");
    await see(form.getByText("Norn"));
    it.ines.noFaults(/ERR_|Failed to (load|fetch)|50\d/);
  });
  await step("a page that was never opened says that it can't be fetched, and opens when the server is back", async () => {
    await open(page, at(it, "clearance/licences"), "Licences");
    const away = [/\/assets\/Costs-/, /\/api\//];
    for (const address of away) await page.route(address, (route) => route.abort());
    await page.getByRole("navigation", exact("Clearance")).getByRole("link", exact("Budgets")).click();
    await see(page.getByRole("heading", { level: 1, name: "This page could not be fetched" }));
    await see(page.getByText(/opens by itself when the connection is back/));
    for (const address of away) await page.unroute(address);
    await see(page.getByRole("heading", { level: 1, name: "Budgets" }));
    it.ines.noFaults(/ERR_|Failed to (load|fetch)|could not be fetched/);
  });
}

/** Changes of both people stand in the series' list of changes. */
export async function audit(it) {
  const { page } = it.ines;
  await step("the changes page says who changed what", async () => {
    await open(page, at(it, "team/audit"), "Changes");
    await until("a change", () => page.getByText(/Ines Calloway/).count());
  });
}
