// The main jobs without a mouse, and the keys that work everywhere.
import { beside, exact, gone, open, password, see, tabTo } from "../lib/browser.mjs";
import { assert, part, step } from "../lib/runner.mjs";
import { PASSWORD, PRODUCER } from "./beginning.mjs";

const at = (it, place) => `/s/${it.series}/${place}`;

export async function keyboard(it) {
  const { page } = it.ines;
  const keys = page.keyboard;
  part("By keyboard alone");
  await step("signing in", async () => {
    await it.ines.context.clearCookies();
    await page.goto("/sign-in");
    await tabTo(page, page.getByRole("textbox", exact("E-mail")));
    await keys.type(PRODUCER);
    await tabTo(page, password(page));
    await keys.type(PASSWORD);
    await keys.press("Enter");
    await see(page.getByRole("heading", { level: 1, name: "Today" }));
  });
  await step("the skip link comes first and leads to the page", async () => {
    await open(page, at(it, "shoot/people"), "People");
    await keys.press("Tab");
    assert(await focused(page, page.getByRole("link", exact("Skip to the page"))), "the skip link is not first");
    await keys.press("Enter");
    assert(await page.getByRole("main").evaluate((main) => main.contains(document.activeElement)), "focus is not in the page");
  });
  await step("`?` shows the keys, Escape closes them and gives the focus back", async () => {
    await keys.press("?");
    const help = page.getByRole("dialog", { name: "Keys" });
    await see(help);
    await keys.press("Escape");
    await gone(help);
  });
  await step("`/` goes to the find field, which narrows the list", async () => {
    await keys.press("/");
    const find = page.getByRole("textbox", exact("Find in people"));
    assert(await focused(page, find), "the find field has no focus");
    await keys.type("tolley");
    await gone(page.getByRole("link", { name: /Nobody In Particular/ }));
    await find.fill("");
    await see(page.getByRole("link", { name: /Nobody In Particular/ }));
  });
  await step("`n` makes a record, Ctrl Enter saves it, `e` edits it, Escape closes it", async () => {
    await keys.press("Escape");
    await page.getByRole("main").focus();
    await keys.press("n");
    const name = beside(page, "person").getByRole("textbox", exact("Name as credited"));
    await tabTo(page, name);
    await keys.type("Wren Aldous");
    await keys.press("Control+Enter");
    await see(beside(page, "person").getByRole("heading", exact("Wren Aldous")));
    await page.getByRole("main").focus();
    await keys.press("e");
    await tabTo(page, beside(page, "person").getByRole("textbox", exact("Pronunciation")));
    await keys.type("REN");
    await keys.press("Control+Enter");
    await see(beside(page, "person").getByText("REN", { exact: true }));
    await page.getByRole("main").focus();
    await keys.press("Escape");
    await gone(beside(page, "person"));
  });
  await step("arrows go through the rows, Enter opens one, Remove and Undo by Tab", async () => {
    await tabTo(page, page.getByRole("link", { name: /Maren Tolley/ }));
    await keys.press("ArrowDown");
    await keys.press("ArrowDown");
    await keys.press("Enter");
    const panel = beside(page, "person");
    await see(panel.getByRole("heading", exact("Wren Aldous")));
    await tabTo(page, panel.getByRole("button", exact("Remove")));
    await keys.press("Enter");
    const undo = page.getByRole("button", exact("Undo"));
    await tabTo(page, undo);
    await keys.press("Enter");
    await see(page.getByText("Brought back."));
  });
  await step("a list of choices opens, is gone through and chosen from", async () => {
    await open(page, at(it, "shoot/releases?record=new"), "Releases");
    const kind = beside(page, "release").getByRole("combobox", exact("Kind"));
    await tabTo(page, kind);
    await keys.press("Enter");
    await keys.press("ArrowDown");
    await keys.press("ArrowDown");
    await keys.press("Enter");
    assert((await kind.inputValue()) !== "", "nothing was chosen");
    page.once("dialog", (dialog) => dialog.accept());
  });
  await step("clips are chosen and logged", async () => {
    await open(page, at(it, "footage/find"), "Find and log");
    await tabTo(page, page.getByRole("checkbox", exact("Choose A001C003.MOV")));
    await keys.press("Space");
    const bar = page.getByRole("form", exact("Log the chosen files"));
    await tabTo(page, bar.getByRole("combobox", exact("Who")));
    await keys.type("Maren");
    await see(page.getByRole("option", exact("Maren Tolley")));
    await keys.press("ArrowDown");
    await keys.press("Enter");
    await tabTo(page, bar.getByRole("button", exact("Log")));
    await keys.press("Enter");
    await see(page.getByText("Logged Maren Tolley in 1 file."));
  });
  await step("the strip is one stop of Tab; arrows go from event to event", async () => {
    await open(page, at(it, `cut/strip?episode=${it.episode}`), "Strip");
    await tabTo(page, page.getByRole("button", { name: /^Event 001/ }));
    await keys.press("ArrowRight");
    await keys.press("ArrowRight");
    assert(await focused(page, page.getByRole("button", { name: /^Event 002/ })), "the arrow does not go on");
    await keys.press("Enter");
    await see(page.getByRole("region", exact("The chosen event")));
  });
  await step("no focus is hidden under what stays on the page, on a phone neither", async () => {
    await open(page, at(it, "shoot/people"), "People");
    await through(page, 40);
    await page.setViewportSize({ width: 390, height: 700 });
    await open(page, "/new-series", "New series");
    await through(page, 25);
    await page.setViewportSize({ width: 1280, height: 900 });
  });
}

async function through(page, stops) {
  for (let stop = 0; stop < stops; stop += 1) {
    await page.keyboard.press("Tab");
    const hidden = await page.evaluate(covered);
    assert(!hidden, `the focus is hidden on: ${hidden}`);
  }
}

const focused = (page, locator) => locator.first().evaluate((element) => element === document.activeElement);

/** In the page: the words of the focused element when something else lies over its middle. */
function covered() {
  const element = document.activeElement;
  if (!element || element === document.body) return null;
  const box = element.getBoundingClientRect();
  if (box.width < 2 || box.height < 2) return null;
  const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  if (!top || element.contains(top) || top.contains(element) || element.labels?.[0]?.contains(top)) return null;
  return `${element.tagName} ${element.textContent?.slice(0, 60)} under ${top.tagName} ${top.textContent?.slice(0, 60)}`;
}
