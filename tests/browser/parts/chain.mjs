// From the drive to the report: scan, log, cut, unknown source, clearance, why, report and its downloads, Today.
import { execFile } from "node:child_process";
import { readFile } from "node:fs/promises";
import { join } from "node:path";
import { promisify } from "node:util";
import { choose, downloaded, exact, fill, gone, open, openOne, press, see, upload } from "../lib/browser.mjs";
import { EDL, makeDrive } from "../lib/media.mjs";
import { assert, OUT, part, step } from "../lib/runner.mjs";
import { waybill } from "../lib/server.mjs";

const run = promisify(execFile);
const at = (it, place) => `/s/${it.series}/${place}`;
const messages = (page) => page.getByRole("region", exact("Messages"));

export async function chain(it) {
  const { page } = it.ines;
  part("From the drive to the report");
  await step("a device token is made on the account page and shown once", async () => {
    await open(page, "/account", "My account");
    await fill(page, "Name of the device", "offload laptop");
    await press(page, "Make a token");
    const shown = page.getByRole("alert").getByRole("code").or(page.getByRole("alert").locator("code"));
    await see(shown);
    it.token = (await shown.first().innerText()).trim();
    await page.reload();
    await see(page.getByText("offload laptop"));
    await gone(page.getByText(it.token));
  });
  await step("the real command scans a drive with that token", async () => {
    const folder = join(it.server.folder, "drive");
    it.files = makeDrive(folder);
    const words = ["scan", folder, "--drive", "GANNET 1", "--to", it.server.url, "--series", "Ebb and Oar"];
    await waybill(it.server, words, { WAYBILL_TOKEN: it.token });
  });
  await step("drive, cards and files stand in the catalogue", async () => {
    await open(page, at(it, "footage/drives"), "Drives");
    await page.getByRole("link", exact("GANNET 1")).click();
    await see(page.getByRole("region", exact("The open drive")).getByText(/6 files/));
    await open(page, at(it, "footage/cards"), "Cards");
    await see(page.getByRole("link", { name: "20260314_A001_CAMA_SLIPWAY" }));
    await open(page, at(it, "shoot/days"), "Shoot days");
    await page.getByRole("link", { name: /14 Mar 2026/ }).click();
    await see(page.getByText("3 of 3 expected cards have arrived on a drive."));
    await open(page, at(it, "footage/find"), "Find and log");
    for (const name of it.files) await see(page.getByRole("link", exact(name)));
    await page.getByRole("link", exact(it.files[0])).click();
    await see(page.getByRole("region", exact("The open file")).getByText("A001C001", { exact: true }));
    it.file = openOne(page);
    await press(page.getByRole("region", exact("The open file")), "Close");
  });
  await step("several clips are logged at once, and undone, and logged again", () => logClips(it, page));
  await step("a clip is marked, its mark changed, removed and brought back", () => markClip(it, page));
  await step("a transcript is brought in, removed and brought back", () => transcript(it, page));
  await step("a search is kept, found again and forgotten", () => keepSearch(it, page));
  await step("a cut is imported from an edit decision list", async () => {
    await open(page, at(it, `cut/versions?episode=${it.episode}`), "Versions");
    await upload(page, page, "Import a cut …", "EP01_CUT_260714_V1.edl", "text/plain", Buffer.from(EDL));
    await see(messages(page).getByText(/was imported: 6 events, 1 unknown source/));
    await see(page.getByRole("link", { name: /EP01_CUT_260714/ }));
  });
  await step("a file that is no cut is refused in words, and nothing is kept", async () => {
    const picture = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0, 1, 2, 3, 255, 254]);
    await upload(page, page, "Import a cut …", "still.edl", "text/plain", picture);
    await see(page.getByRole("alert").getByText("nothing was saved"));
    assert((await page.getByRole("link", { name: /still/ }).count()) === 0, "a cut was kept");
    it.ines.noFaults(/4\d\d/);
  });
  await step("the unknown source is shown on the strip, and matched by hand", () => matchByHand(it, page));
  await step("clearance lists the elements, worst first, and says why", () => clearance(it, page));
  await step("the report stands as a page", async () => {
    await open(page, at(it, `delivery/report?episode=${it.episode}`), "Clearance report");
    await see(page.getByRole("table", { name: /worst first/ }).getByText("Regatta newsreel"));
    await see(page.getByRole("heading", exact("Cautions")));
  });
  await step("the report is taken away as PDF, workbook, CSV and JSON", () => downloads(it, page));
  await step("the report page prints to PDF, light, with its table", () => printed(it, page));
  await step("Today lists what is due, soonest first, and leads there", async () => {
    await open(page, "/", "Today");
    const due = page.getByRole("main").getByRole("link", { name: /Textless elements/ });
    await see(due);
    await due.first().click();
    await see(page.getByRole("region", exact("The open deliverable")));
  });
}

async function logClips(it, page) {
  const bar = page.getByRole("form", exact("Log the chosen files"));
  const log = async () => {
    for (const name of ["A001C001.MOV", "A001C002.MOV"]) {
      await page.getByRole("checkbox", exact(`Choose ${name}`)).click();
    }
    await see(bar.getByText("2 files chosen."));
    await choose(page, bar, "Who", "Maren Tolley");
    await press(bar, "Log");
    await see(messages(page).getByText("Logged Maren Tolley in 2 files."));
  };
  await log();
  const row = page.getByRole("row", { name: /A001C001\.MOV/ });
  await see(row.getByText("logged", { exact: true }));
  await press(messages(page), "Undo");
  await see(row.getByText("not logged", { exact: true }));
  await log();
  await see(row.getByText("logged", { exact: true }));
}

async function markClip(it, page) {
  await open(page, at(it, "footage/find"), "Find and log");
  await page.getByRole("checkbox", exact(`Choose ${it.files[0]}`)).click();
  await press(page, "Mark as shots");
  const bar = page.getByRole("form", exact("Mark the chosen files"));
  await choose(page, bar, "Kind of shot", "interview");
  await press(bar, "Mark");
  await see(messages(page).getByText("Marked 1 file."));
  await press(messages(page), "Dismiss");
  await page.getByRole("link", exact(it.files[0])).click();
  const panel = page.getByRole("region", exact("The open file"));
  await press(panel, "Edit the mark interview");
  await choose(page, panel, "Rank among the selects", "1, must be in");
  await press(panel, "Save");
  await press(panel, "Remove the mark select 1, interview");
  await gone(panel.getByText("select 1, interview"));
  await press(messages(page), "Undo");
  await see(panel.getByText("select 1, interview"));
}

async function transcript(it, page) {
  await open(page, at(it, `footage/find?record=${it.file}`), "Find and log");
  const panel = page.getByRole("region", exact("The open file"));
  const talk = Buffer.from("WEBVTT\n\n00:00.000 --> 00:01.000\nThe tide is turning.\n");
  await upload(page, panel, "Bring in a transcript (WebVTT or SubRip)", "talk.vtt", "text/vtt", talk);
  await press(panel, "Remove the transcript talk.vtt");
  await see(panel.getByText("No transcript of it is here."));
  await press(messages(page), "Undo");
  await see(panel.getByText("talk.vtt"));
  await press(panel, "Close");
  await page.getByText("More to find by").click();
  await fill(page, "Words that were said", "tide turning");
  await see(page.getByText("“The tide is turning.”"));
  await fill(page, "Words that were said", "");
  await see(page.getByRole("textbox", exact("Words that were said")));
}

async function keepSearch(it, page) {
  await open(page, at(it, "footage/find?q=slipway&camera=cama"), "Find and log");
  await press(page, "Keep this search");
  await fill(page, "Name of the search", "Slipway by camera A");
  await press(page, "Keep");
  await press(page, "Any, not only: Camera cama");
  await gone(page.getByRole("button", exact("Forget “Slipway by camera A”")));
  await press(page, "Show all files");
  await press(page, "Kept searches");
  await page.getByRole("menuitem", exact("Slipway by camera A")).click();
  await press(page, "Forget “Slipway by camera A”");
  await press(messages(page), "Undo");
  await see(page.getByRole("button", exact("Forget “Slipway by camera A”")));
}

async function matchByHand(it, page) {
  await open(page, at(it, `cut/strip?episode=${it.episode}`), "Strip");
  const event = page.getByRole("button", { name: /PHONE_0417/ });
  await see(event);
  await see(page.getByText("1 unknown source"));
  await see(page.getByRole("table").getByText(/PHONE_0417.* matches nothing in the catalogue/));
  await event.click();
  const panel = page.getByRole("region", exact("The chosen event"));
  await choose(page, panel, "An import", "Phone video from the quay");
  await see(messages(page).getByText(/Remembered for every event/));
  await see(panel.getByText(/by hand|chosen/i));
}

async function clearance(it, page) {
  await open(page, at(it, `clearance/elements?episode=${it.episode}`), "Elements");
  await see(page.getByText(/Not cleared: \d+ of \d+ elements/));
  const table = page.getByRole("table", { name: /worst first/ });
  await see(table.getByRole("link", exact("Regatta newsreel")));
  const states = await table.getByRole("row").evaluateAll((rows) =>
    rows.slice(1).map((row) => row.querySelectorAll("td")[1]?.textContent ?? ""),
  );
  const rank = ["gap", "unknown source", "unknown", "not logged", "restricted", "ends soon", "covered"];
  const ranks = states.map((state) => rank.findIndex((word) => state.startsWith(word)));
  assert(ranks.every((one, index) => one >= 0 && (index === 0 || ranks[index - 1] <= one)), `not worst first: ${states}`);
  await table.getByRole("link", exact("Regatta newsreel")).click();
  const why = page.getByRole("region", exact("Why"));
  await see(why);
  it.element = openOne(page);
  await see(why.getByText(/9 Jan 2029/));
  await see(why.getByText(/Rule R\d+/));
  await page.reload();
  await see(page.getByRole("region", exact("Why")).getByText(/9 Jan 2029/));
}

async function downloads(it, page) {
  const begins = { PDF: "%PDF-", "Workbook (XLSX)": "PK", CSV: "", JSON: "{" };
  for (const [name, start] of Object.entries(begins)) {
    const file = await downloaded(page, page.getByRole("link", exact(name)));
    const bytes = await readFile(await file.path());
    assert(bytes.length > 300, `${name}: only ${bytes.length} bytes`);
    assert(bytes.toString("latin1", 0, 5).startsWith(start), `${name} begins with ${bytes.toString("latin1", 0, 20)}`);
    await file.saveAs(join(OUT, file.suggestedFilename()));
    if (name === "JSON") JSON.parse(bytes.toString());
    if (name === "CSV") assert(bytes.toString().includes("Regatta newsreel"), "the CSV lacks the newsreel");
  }
}

async function printed(it, page) {
  await page.emulateMedia({ colorScheme: "dark" });
  const file = join(OUT, "report-page-printed.pdf");
  await page.pdf({ path: file, format: "A4" });
  await page.emulateMedia({ colorScheme: "light" });
  const { stdout } = await run("pdftotext", ["-layout", file, "-"]);
  assert(stdout.includes("Regatta newsreel"), "the printed report lacks the newsreel");
  assert(/printed \d/.test(stdout), "the print does not say when it was printed");
  assert(!stdout.includes("Take it away as"), "buttons are printed");
}
