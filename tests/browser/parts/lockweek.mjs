// Lock week in the demonstration: approval, cue sheet and papers, what a later cut does to them, what a change would
// cost, and the drives.
import { execFile } from "node:child_process";
import { readFile } from "node:fs/promises";
import { join } from "node:path";
import { promisify } from "node:util";
import { beside, choose, chooseMany, downloaded, exact, fill, gone, open, press, save, see, upload } from "../lib/browser.mjs";
import { assert, OUT, part, step } from "../lib/runner.mjs";

const run = promisify(execFile);
const CUT = new URL("../../../server/app/demo/episode-1-after-notes.edl", import.meta.url).pathname;
const at = (it, place) => `/s/${it.series}/${place}${place.includes("?") ? "&" : "?"}episode=${it.episode}`;
const messages = (page) => page.getByRole("region", exact("Messages"));
const cueSheet = (it, page) => open(page, at(it, "clearance/cue-sheet"), "Cue sheet");

const changed = (approval, name) => approval.getByRole("listitem").filter({ hasText: `${name} changed since it was approved` });

export async function lockweek(it) {
  const { page } = it.ines;
  part("Lock week");
  await step("the binder is asked for in another tab, since it takes its time", () => askForBinder(it));
  await step("what is cleared is approved, and who approves their own papers is marked", () => approve(it, page));
  await step("an element far down opens its reasons in view, and Escape goes back to its row", () => inView(it, page));
  await step("the issued cue sheet is out of date and says what changed", () => stale(it, page));
  await step("a cue's usage is completed and undone; the sheet is issued and true again", () => issue(it, page));
  await step("a later cut makes it stale again", () => laterCut(it, page));
  await step("and reopens what it touches of the approval, nothing else", () => reopened(it, page));
  await step("a longer licence is tried: cells won and the money, and nothing is stored", () => whatIf(it, page));
  await step("the guardian's signature in place of the aunt's turns the answer", () => aunt(it, page));
  await step("before the repeat: what has lapsed by then, and a question answered", () => repeat(it, page));
  await step("costs stand against the budget, with what equal terms add", () => money(it, page));
  await step("the papers are read", () => papers(it, page));
  await step("a drive is handed over, and the hand-over corrected", () => handOver(it, page));
  await step("a place that burns: what is gone, and a list of it", () => burns(it, page));
  await step("labels are printed without the page around them", () => labels(it, page));
  await step("an approval that comes too late says what changed meanwhile, and keeps the note", () => tooLate(it, page));
  await step("the binder has the scans behind the cut, the aunt's form among them", () => binder(it));
  // The approval that came too late.
  it.ines.noFaults(/412/);
}

async function askForBinder(it) {
  const tab = await it.ines.context.newPage();
  await open(tab, at(it, "delivery/papers"), "Papers");
  it.binder = tab.waitForEvent("download", { timeout: 180_000 });
  it.binder.catch(() => {});
  await tab.getByRole("link", { name: /binder/ }).click();
}

async function binder(it) {
  const file = await it.binder;
  const path = join(OUT, file.suggestedFilename());
  await file.saveAs(path);
  await file.page().close();
  const { stdout } = await run("pdftotext", [path, "-"]);
  assert(stdout.includes("Jessamy Marrowby, aunt"), "the binder lacks the aunt's form");
}

async function approve(it, page) {
  await open(page, at(it, "clearance/elements"), "Elements");
  const approval = page.getByRole("region", exact("Approval"));
  await see(approval.getByText(/Orla Quenby approved \d+ elements of EP01_CUT_\d+_v4/));
  await see(changed(approval, "Abel Dunmallet"));
  await press(approval, "Approve what is cleared");
  await fill(approval, "Note", "After the broadcaster's notes");
  await press(approval, "Approve");
  await see(approval.getByText(/Imre Tolland approved .*_v5.*self-approved/));
  await gone(changed(approval, ""));
}

async function inView(it, page) {
  await open(page, at(it, "clearance/elements"), "Elements");
  const row = page.getByRole("table", { name: /worst first/ }).locator("[data-row-link]").last();
  const name = (await row.textContent()) ?? "";
  await row.press("Enter");
  const head = page.getByRole("region", exact("Why")).getByRole("heading", exact(name));
  await see(head);
  await page.waitForFunction((one) => one === document.activeElement, await head.elementHandle());
  for (const [what, locator] of [["the heading", head], ["the row", row]]) {
    const box = await locator.boundingBox();
    assert(box && box.y >= 0 && box.y + box.height <= page.viewportSize().height, `${what} of ${name} is out of view`);
  }
  await page.keyboard.press("Escape");
  await gone(head);
  assert(await row.evaluate((one) => one === document.activeElement), "the focus is not back on the row");
}

async function stale(it, page) {
  await cueSheet(it, page);
  const standing = page.getByRole("region", exact("Where it stands"));
  await see(standing.getByText(/issued last is out of date\. It was made from EP01_CUT_\d+_v4; locked now is EP01_CUT_\d+_v5/));
  await standing.getByText(/What is different from the issued sheet/).click();
  await see(standing.getByText(/“Paper Lanterns at Ten”/));
}

async function issue(it, page) {
  const usage = page.getByRole("combobox", { name: /^Usage of cue \d+, For Those at the Oar/ });
  await usage.click();
  await page.getByRole("option", exact("background")).click();
  await see(messages(page).getByText(/Cue \d+ was saved/));
  await press(messages(page), "Undo");
  await page.waitForFunction((field) => field.value === "", await usage.elementHandle());
  await press(page, "Issue it with its open points");
  await see(messages(page).getByText("Sheet 2 was issued."));
  await see(page.getByText("The sheet that was issued last is still true."));
}

async function laterCut(it, page) {
  const text = await readFile(CUT, "utf8");
  // Wren's last shot two seconds shorter, and the theme under it with it.
  const shorter = text
    .replace("06:24:04:00 06:24:22:00 10:15:36:02 10:15:54:02", "06:24:04:00 06:24:20:00 10:15:36:02 10:15:52:02")
    .replace("00:00:00:00 00:00:46:00 10:15:36:02 10:16:22:02", "00:00:00:00 00:00:44:00 10:15:36:02 10:16:20:02");
  assert(shorter !== text, "the demonstration's cut is another one");
  await open(page, at(it, "cut/versions"), "Versions");
  await upload(page, page, "Import a cut …", "EP01_CUT_991231_v6.edl", "text/plain", Buffer.from(shorter));
  await see(messages(page).getByText(/was imported/));
  const cut = page.getByRole("listitem").filter({ hasText: "EP01_CUT_991231_v6" });
  await cut.getByRole("button", { name: /^Lock / }).click();
  await cut.getByRole("button", { name: /^Unlock / }).click();
  const asked = page.getByRole("dialog", { name: /^Unlock / });
  await press(asked, "Unlock");
  await see(asked.getByText(/Say why, in a few words/));
  await press(asked, "Keep it locked");
  await gone(asked);
  await see(cut.getByRole("button", { name: /^Unlock / }));
  await cueSheet(it, page);
  await see(page.getByText(/out of date\. It was made from EP01_CUT_\d+_v5; locked now is EP01_CUT_991231_v6/));
}

async function reopened(it, page) {
  await open(page, at(it, "clearance/elements"), "Elements");
  const approval = page.getByRole("region", exact("Approval"));
  await see(changed(approval, "Wren Sallowfield"));
  assert((await changed(approval, "Abel Dunmallet").count()) === 0, "what it does not touch is open again");
}

async function whatIf(it, page) {
  await open(page, at(it, "clearance/what-if"), "What if");
  const paper = "Candlewick Newsreel Library, for “Launching the lifeboat, newsreel of 1954”";
  await choose(page, page, "Which paper", paper);
  await fill(page, "New last day", "31 Dec 2090");
  await fill(page, "Fee for it", "708");
  await press(page, "Try it");
  const outcome = page.getByRole("region", exact("What it would do"));
  await see(outcome.getByText(/[1-9]\d* cells won, 0 lost.*GBP 708\.00/));
  await see(outcome.getByRole("row", { name: /Launching the lifeboat/ }));
  await open(page, at(it, "clearance/elements"), "Elements");
  await see(page.getByRole("table", { name: /worst first/ }).getByRole("row", { name: /Launching the lifeboat.*gap/ }));
}

async function aunt(it, page) {
  const row = page.getByRole("table", { name: /worst first/ }).getByRole("row", { name: /Pip Marrowby/ });
  await see(row.getByText("gap", { exact: true }));
  await row.getByRole("link", exact("Pip Marrowby")).click();
  const why = page.getByRole("region", exact("Why"));
  await see(why.getByText(/no guardian has signed/));
  await why.getByRole("link", exact("the paper")).first().click();
  const form = beside(page, "release");
  await press(form, "Edit");
  await choose(page, form, "State", "OK");
  await choose(page, form, "Signed by", "a guardian");
  await fill(form, "Name of who signed", "Loveday Marrowby, mother");
  await save(page, "release");
  await open(page, at(it, "clearance/elements"), "Elements");
  await row.getByRole("link", exact("Pip Marrowby")).click();
  await see(why.getByRole("heading", exact("Pip Marrowby")));
  await gone(why.getByText(/no guardian has signed/));
}

async function repeat(it, page) {
  await open(page, at(it, "delivery/showings"), "Showings");
  const row = page.getByRole("row", { name: /6 of 6 questions open/ });
  await row.getByRole("link").click();
  const panel = beside(page, "showing");
  await see(panel.getByRole("listitem").filter({ hasText: /newsreel of 1954 was cleared .* until/ }));
  await choose(page, panel, "Answer: Has anybody who appears died?", "yes, there is something");
  await fill(panel, "Note: Has anybody who appears died?", "Greta Cobbledeane; her family want it shown");
  await panel.getByRole("textbox", { name: /^Note: Has anybody who appears died/ }).press("Tab");
  await see(page.getByRole("row", { name: /5 of 6 questions open/ }));
}

async function money(it, page) {
  await open(page, at(it, "clearance/costs"), "Costs");
  const sums = page.getByRole("region", exact("Against the budget"));
  await see(sums.getByText(/“Paper Lanterns at Ten”: on equal terms Foxglove Row Music .* GBP 300\.00 more/));
  const line = sums.getByRole("row", { name: /^1\. First Light/ });
  // 130 left, less what equal terms add.
  await see(line.getByText("−GBP 170.00"));
  await page.getByRole("link", { name: /Foxglove Row Music/ }).click();
  await press(beside(page, "cost"), "Edit");
  await fill(beside(page, "cost"), "Quoted", "1500");
  await save(page, "cost");
  await gone(sums.getByText(/on equal terms/));
  await see(line.getByText("−GBP 170.00"));
}

async function papers(it, page) {
  await open(page, at(it, "delivery/papers"), "Papers");
  await see(page.getByRole("row", { name: /Launching the lifeboat/ }));
  await choose(page, page, "Paper", "Credit list");
  await see(page.getByText("Archive: Candlewick Newsreel Library"));
}

async function handOver(it, page) {
  await open(page, at(it, "footage/drives"), "Drives");
  await page.getByRole("link", exact("HARBOUR 2")).click();
  const drive = beside(page, "drive");
  await press(drive, "Hand it over");
  const form = drive.getByRole("form", exact("Hand it over"));
  await fill(form, "To", "Tamsin Vowle");
  await fill(form, "Where it is now", "Van, on the way to the slipway");
  await fill(form, "The receiver signs with their name", "Tamsin Vowle");
  await press(form, "Enter it");
  await see(drive.getByText(/Dilys Arkenside to Tamsin Vowle; at Van, on the way to the slipway/));
  await drive.getByRole("button", exact("Correct")).first().click();
  const again = drive.getByRole("form", exact("Correct an event"));
  await fill(again, "Number of the seal", "TQ 0130");
  await fill(again, "The receiver signs with their name", "Tamsin Vowle");
  await press(again, "Enter the correction");
  await see(drive.getByText(/seal TQ 0130/));
  await see(drive.locator("s").getByText(/on the way to the slipway/));
}

async function burns(it, page) {
  await open(page, at(it, "footage/what-if"), "What if");
  await choose(page, page, "Or all drives at", "Edit suite, Ninth Oar Pictures");
  const lost = page.getByRole("region", exact("What would be"));
  await see(lost.getByText(/\d+ files, .* would be gone\./));
  await see(lost.getByRole("link", { name: /A011_CAMA_AWARDS/ }));
  const file = await downloaded(page, lost.getByRole("link", exact("those gone")));
  const list = await readFile(await file.path(), "utf8");
  assert(list.includes("A011_C001.MOV"), "the list lacks a file of the card that stands on one drive");
  assert(!list.includes("A001_C001.MOV"), "the list has a file that another place holds too");
}

async function labels(it, page) {
  await open(page, at(it, "footage/labels"), "Labels");
  await see(page.getByRole("img", exact("Code of HARBOUR 1")));
  const file = join(OUT, "labels-printed.pdf");
  await page.pdf({ path: file, format: "A4" });
  const { stdout } = await run("pdftotext", [file, "-"]);
  for (const words of ["HARBOUR 1", "TQ-H1-0001", "EDIT 1"]) assert(stdout.includes(words), `no label says ${words}`);
  for (const words of ["Clearance", "Print the sheet"]) assert(!stdout.includes(words), `the page around is printed: ${words}`);
}

async function tooLate(it, page) {
  await open(page, at(it, "clearance/elements"), "Elements");
  const approval = page.getByRole("region", exact("Approval"));
  await press(approval, "Approve what is cleared");
  await page.keyboard.type("Looked through on Sunday");
  const tab = await it.ines.context.newPage();
  await open(tab, at(it, "shoot/releases?q=Abel"), "Releases");
  await tab.getByRole("link", { name: /Abel Dunmallet/ }).first().click();
  await press(beside(tab, "release"), "Edit");
  await choose(tab, beside(tab, "release"), "State", "signed, not checked");
  await press(beside(tab, "release"), "Save");
  await see(messages(tab).getByText("Saved."));
  await press(approval, "Approve");
  await see(approval.getByText("Changed while you looked:"));
  await see(approval.getByRole("listitem").filter({ hasText: "Abel Dunmallet was covered and is unknown now." }));
  await press(messages(tab), "Undo");
  await see(messages(tab).getByText("It is as it was before."));
  await tab.close();
  await press(approval, "Approve what is cleared");
  const note = approval.getByRole("textbox", exact("Note"));
  assert((await note.inputValue()) === "Looked through on Sunday", "the note is lost");
  await press(approval, "Not now");
}
