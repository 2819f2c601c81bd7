// A list that the team has already: people from a file, a mapping put right, dates decided, the import and its undo; and
// rows pasted onto a page.
import { readFile } from "node:fs/promises";
import { choose, downloaded, exact, gone, open, press, see, upload } from "../lib/browser.mjs";
import { assert, cornerstone, part, step } from "../lib/runner.mjs";

const CSV = [
  "Contributor;Said;Birthday;Age",
  "Zoë Marlow;ZO-ee;03/04/1990;adult",
  "Tam Ferris;;05/06/1988;grown",
  "Odile Brandt;;11/12/1985;adult",
].join("\r\n");

export async function lists(it) {
  const { page } = it.ines;
  const people = `/s/${it.series}/shoot/people`;
  part("Lists");
  await step("a page of records leads to bringing in a list", async () => {
    await open(page, people, "People");
    await press(page, "Lists");
    await page.getByRole("menuitem", exact("Bring in a list")).click();
    await see(page.getByRole("heading", { level: 1, name: "Bring in a list" }));
  });
  await cornerstone("a file is read, its dates and words are asked about, nothing is stored", async () => {
    await upload(page, page, "Choose a list …", "people.csv", "text/csv", Buffer.from(CSV));
    await see(page.getByRole("heading", { level: 2, name: "What each row does" }));
    await see(page.getByText("3 dates can be read day first or month first"));
    await see(page.getByRole("button", exact("In error 3")));
    assert(await page.getByRole("button", { name: /^Nothing to bring in/ }).isDisabled(), "faulty rows could be imported");
    it.upload = new URL(page.url()).searchParams.get("upload");
  });
  await cornerstone("the person corrects the mapping, the order of dates and a word", async () => {
    await choose(page, page, "03/04/2029 is", "3 April 2029 (day first)");
    await see(page.getByRole("button", exact("In error 1")));
    await choose(page, page, "What “Said” is", "Pronunciation");
    await choose(page, page, "What Age: “grown” means", "adult");
    await see(page.getByRole("button", exact("In error 0")));
    await see(page.getByRole("button", exact("Bring in: make 3")));
  });
  await cornerstone("the import makes three people, and is undone as one", async () => {
    await press(page, "Bring in: make 3");
    await see(page.getByRole("heading", { level: 1, name: "People" }));
    await see(page.getByRole("link", { name: /Zoë Marlow/ }));
    await press(page.getByRole("region", exact("Messages")), "Undo");
    await gone(page.getByRole("link", { name: /Zoë Marlow/ }));
    await open(page, `/s/${it.series}/team/lists`, "Lists brought in");
    await see(page.getByText("People from “people.csv”"));
    await see(page.getByText(/3 made, 0 changed, 0 left out · undone/));
  });
  await step("rows that are pasted onto the list open the same preview", async () => {
    await open(page, people, "People");
    await see(page.getByRole("button", exact("Lists")));
    await page.evaluate(() => {
      const data = new DataTransfer();
      data.setData("text/plain", "Name\tLanguage\nTam Ferris\ten\n\tcy\n");
      document.body.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
    });
    await see(page.getByText("“Pasted rows”"));
    await see(page.getByRole("button", exact("In error 1")));
    it.upload = new URL(page.url()).searchParams.get("upload");
  });
  await step("the rows in error come as a file of their own, and the list as one that can be brought in again", async () => {
    const bad = await downloaded(page, page.getByRole("button", exact("Download the rows in error")));
    const text = await readFile(await bad.path(), "utf8");
    assert(text.includes("What is wrong") && text.includes("needed for a new record"), text);
    await open(page, people, "People");
    await press(page, "Lists");
    const list = await downloaded(page, page.getByRole("menuitem", { name: /^Take out as CSV/ }));
    assert((await readFile(await list.path(), "utf8")).startsWith("\ufeffWaybill id,Name as credited"), "the list has no headings");
  });
}
