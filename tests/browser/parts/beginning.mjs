// The first hour: the set-up link, signing in and out, a new series with its records, a conflict, undo, a scan.
import { readFile } from "node:fs/promises";
import {
  beside,
  choose,
  chooseMany,
  downloaded,
  exact,
  fill,
  gone,
  open,
  openOne,
  password,
  press,
  save,
  see,
  upload,
} from "../lib/browser.mjs";
import { makePdf } from "../lib/media.mjs";
import { assert, cornerstone, part, step } from "../lib/runner.mjs";

export const PASSWORD = "four tides and a bell";
export const PRODUCER = "ines@harbour.example";

export async function beginning(it) {
  const { page } = it.ines;
  part("Setting up");
  await step("the set-up page refuses to work without its link", async () => {
    await page.goto("/set-up");
    await see(page.getByText("This page needs the one-time link"));
  });
  await cornerstone("the link makes the first administrator, who is signed in at once", async () => {
    await page.goto(await it.server.setUpLink());
    await fill(page, "Organisation", "Low Water Pictures");
    await fill(page, "Your name", "Ines Calloway");
    await fill(page, "E-mail", PRODUCER);
    await password(page).fill(PASSWORD);
    await press(page, "Set up and sign in");
    await see(page.getByText("You have no series yet."));
  });
  await cornerstone("signing out, a wrong password in words, signing in to where one was going", () => signing(it));

  part("A new series");
  await cornerstone("a series is made from its form", async () => {
    await page.goto("/");
    await press(page, "New series");
    await see(page.getByRole("heading", { level: 1, name: "New series" }));
    await press(page, "Make the series");
    await see(page.getByRole("alert").getByText("Nothing was saved yet."));
    await fill(page, "Title", "Ebb and Oar");
    await fill(page, "Production entity", "Low Water Pictures Ltd");
    await choose(page, page, "Usual frame rate", "23.976");
    await press(page, "Make the series");
    await see(page.getByRole("heading", { level: 2, name: "First steps" }));
    it.series = /\/s\/([^/?]+)/.exec(page.url())[1];
  });
  for (const [name, act] of records) await step(name, () => act(it, page));
}

async function signing({ ines, server }) {
  const { page } = ines;
  await page.goto("/account");
  await press(page, "Sign out");
  await see(page.getByRole("heading", { level: 1, name: "Sign in" }));
  await page.goto("/account");
  await see(page.getByText("Sign in to go on to where you were."));
  await fill(page, "E-mail", PRODUCER);
  await password(page).fill("four tides and a gong");
  await press(page, "Sign in");
  await see(page.getByRole("alert"));
  assert(!/[{}]|undefined|null/.test(await page.getByRole("alert").innerText()), "the fault is not in words");
  await password(page).fill(PASSWORD);
  await press(page, "Sign in");
  await see(page.getByRole("heading", { level: 1, name: "My account" }));
  assert(page.url() === `${server.url}/account`, `went to ${page.url()}`);
  ines.noFaults(/40[01]/);
}

const at = (it, place) => `/s/${it.series}/${place}`;

async function fresh(it, page, place, title, one) {
  await open(page, at(it, place), title);
  await press(page, `New ${one}`);
  return beside(page, one);
}

const records = [
  [
    "an episode, with its dates",
    async (it, page) => {
      const form = await fresh(it, page, "team/episodes", "Episodes", "episode");
      await form.getByRole("textbox", exact("Number")).fill("1");
      await fill(form, "Title", "Spring Tide");
      await choose(page, form, "State", "cutting");
      await fill(form, "Running time asked for", "58:00");
      await fill(form, "First transmission, planned", "12 Feb 2027");
      await save(page, "episode");
      it.episode = openOne(page);
    },
  ],
  [
    "a place",
    async (it, page) => {
      const form = await fresh(it, page, "shoot/places", "Places", "place");
      await fill(form, "Name", "Gannet Slip boathouse");
      await fill(form, "Owner", "Gannet Slip Harbour Trust");
      await save(page, "place");
    },
  ],
  [
    "a shoot day at that place; a date that is none is refused in words",
    async (it, page) => {
      const form = await fresh(it, page, "shoot/days", "Shoot days", "shoot day");
      await fill(form, "Date", "31 Feb 2026");
      await press(form, "Save");
      await see(form.getByText("is not a date"));
      await fill(form, "Date", "14 Mar 2026");
      await fill(form, "What is shot", "First outing");
      await chooseMany(page, form, "Places", ["Gannet Slip boathouse"]);
      await form.getByRole("textbox", exact("Cards expected")).fill("3");
      await save(page, "shoot day");
    },
  ],
  [
    "a person, edited in place",
    async (it, page) => {
      const form = await fresh(it, page, "shoot/people", "People", "person");
      await fill(form, "Name as credited", "Maren Tolley");
      await choose(page, form, "Age", "adult");
      await save(page, "person");
      it.person = openOne(page);
      await press(beside(page, "person"), "Edit");
      await fill(beside(page, "person"), "Recognised by", "red cap, bow seat");
      await save(page, "person");
      await see(page.getByRole("table").getByText("red cap, bow seat").or(beside(page, "person").getByText("red cap, bow seat")));
    },
  ],
  ["two people save the same person: both versions are shown, field by field", conflict],
  ["a record is removed, and brought back by undo", removeAndUndo],
  ["a release with an uploaded scan, read back as it was sent", release],
  [
    "an import, with the names under which it stands in a cut",
    async (it, page) => {
      for (const [title, kind, names] of [
        ["Regatta newsreel", "archive film", "NEWSREEL_REGATTA"],
        ["Phone video from the quay", "phone video", ""],
      ]) {
        const form = await fresh(it, page, "clearance/imports", "Imports", "import");
        await choose(page, form, "Class", kind);
        await fill(form, "Title", title);
        await fill(form, "Names in the cut", names);
        await save(page, "import");
      }
    },
  ],
  [
    "a piece of music",
    async (it, page) => {
      const form = await fresh(it, page, "clearance/music", "Music", "piece of music");
      await fill(form, "Title", "Low Water");
      await choose(page, form, "Origin", "commissioned");
      await fill(form, "Names in the cut", "LOW_WATER_MIX");
      await save(page, "piece of music");
    },
  ],
  ["a licence with a grant of a place, a medium and a term", licence],
  ["a specification of what the delivery needs", specification],
  [
    "a deliverable with a due date",
    async (it, page) => {
      const form = await fresh(it, page, "delivery/deliverables", "Deliverables", "deliverable");
      await fill(form, "Item", "Textless elements");
      await choose(page, form, "Episode", "1. Spring Tide");
      await choose(page, form, "Specification", "North Sound");
      await fill(form, "Due", it.soon);
      await choose(page, form, "State", "in work");
      await save(page, "deliverable");
      it.deliverable = openOne(page);
    },
  ],
  [
    "a scene of the episode",
    async (it, page) => {
      const form = await fresh(it, page, `cut/scenes?episode=${it.episode}`, "Scenes", "scene");
      await fill(form, "Title", "On the slip");
      await save(page, "scene");
    },
  ],
];

async function conflict(it, page) {
  const other = await it.ines.context.newPage();
  try {
    const address = at(it, `shoot/people?record=${it.person}&edit=yes`);
    await open(page, address, "People");
    await open(other, address, "People");
    await fill(beside(page, "person"), "Pronunciation", "MAH-ren");
    await fill(beside(other, "person"), "Pronunciation", "MAY-ren");
    await press(beside(other, "person"), "Save");
    await see(other.getByRole("region", exact("Messages")).getByText("Saved."));
    await press(beside(page, "person"), "Save");
    const dialog = page.getByRole("dialog");
    await see(dialog.getByRole("radio", exact("MAH-ren")));
    await see(dialog.getByRole("radio", exact("MAY-ren")));
    await dialog.getByRole("radio", exact("MAY-ren")).check();
    await press(dialog, "Save with these choices");
    await gone(dialog);
    await see(beside(page, "person").getByText("MAY-ren"));
    it.ines.noFaults(/412/);
  } finally {
    await other.close();
  }
}

async function removeAndUndo(it, page) {
  const form = await fresh(it, page, "shoot/people", "People", "person");
  await fill(form, "Name as credited", "Nobody In Particular");
  await save(page, "person");
  await press(beside(page, "person"), "Remove");
  const messages = page.getByRole("region", exact("Messages"));
  await see(messages.getByText("“Nobody In Particular” was removed."));
  await gone(page.getByRole("link", exact("Nobody In Particular")));
  await press(messages, "Undo");
  await see(messages.getByText("Brought back."));
  await see(page.getByRole("link", { name: /Nobody In Particular/ }));
}

async function release(it, page) {
  await open(page, at(it, `shoot/people?record=${it.person}`), "People");
  await page.getByRole("link", exact("Add a release for this person")).click();
  const form = beside(page, "release");
  await see(form.getByRole("heading", exact("New release")));
  await choose(page, form, "State", "OK");
  const pdf = makePdf("Appearance release, Maren Tolley");
  await upload(page, form, "Scan of the signed form …", "maren-tolley.pdf", "application/pdf", pdf);
  await see(form.getByRole("link", exact("maren-tolley.pdf")));
  await choose(page, form, "Signed by", "the person");
  await fill(form, "Signed on", "14 Mar 2026");
  await fill(form, "Filmed from", "14 Mar 2026");
  await fill(form, "Production entity on the form", "Low Water Pictures Ltd");
  await fill(form, "Given in return", "the opportunity to appear");
  await press(form, "Add a grant");
  await grant(page, form, { where: "The world", all: true, from: "14 Mar 2026", term: "in perpetuity, as the paper says" });
  await form.getByRole("checkbox", exact("Allows cutting and re-ordering")).check();
  await save(page, "release");
  it.release = openOne(page);
  const download = await downloaded(page, beside(page, "release").getByRole("link", { name: /scan|pdf/i }));
  const kept = await readFile(await download.path());
  assert(kept.equals(pdf), "the scan that came back is not the one that was sent");
}

async function grant(page, form, { where, all, media = [], from, term, to }) {
  const one = form.getByRole("group", exact("Grant 1"));
  await chooseMany(page, one, "Where", [where]);
  if (all) await one.getByRole("checkbox", exact("all media")).check();
  for (const medium of media) await one.getByRole("checkbox", exact(medium)).check();
  await choose(page, one, "Starts with", "a date");
  await fill(one, "First day", from);
  await choose(page, one, "Ends with", term);
  if (to) await fill(one, "Last day, included", to);
}

async function licence(it, page) {
  const form = await fresh(it, page, "clearance/licences", "Licences", "licence");
  await choose(page, form, "What it licenses", "the whole asset");
  await choose(page, form, "Import", "Regatta newsreel");
  await fill(form, "Licensor", "Skerry Film Library");
  await choose(page, form, "State", "signed");
  await fill(form, "Signed on", "2 Mar 2026");
  await press(form, "Add a grant");
  await grant(page, form, {
    where: "United Kingdom",
    media: ["free television"],
    from: "1 Jan 2027",
    term: "a last day",
    to: "9 Jan 2029",
  });
  await save(page, "licence");
  it.licence = openOne(page);
}

async function specification(it, page) {
  const form = await fresh(it, page, "delivery/specifications", "Specifications", "specification");
  await fill(form, "Name", "North Sound");
  await fill(form, "Broadcaster", "North Sound Television");
  await chooseMany(page, form, "Needed in", ["United Kingdom"]);
  await form.getByRole("checkbox", exact("free television")).check();
  await fill(form, "From", "1 Oct 2027");
  await fill(form, "To, last day included", "30 Sep 2029");
  await save(page, "specification");
  it.specification = openOne(page);
}
