import { expect, test } from "vitest";
import { copiesWords, elsewhereWords, levelWords } from "./CardKeeping";
import { differences } from "./DriveChecks";
import { eventWords } from "./DriveCustody";
import { codeImage, driveAddress } from "./Labels";
import { lossTitle } from "./WhatIf";

test("a hand-over is one sentence", () => {
  const event = {
    id: "1",
    drive_id: "2",
    kind: "handed_over" as const,
    at: "2029-01-09T12:00:00Z",
    from_name: "Jem",
    to_name: "Kofi",
    to_place: "",
    condition: "no marks",
    seal: "QZ 114",
    signature: "Kofi",
    corrects: null,
    recorded_by_name: "Jem",
    created_at: "2029-01-09T12:00:00Z",
  };
  expect(eventWords(event)).toBe("handed over; Jem to Kofi; no marks; seal QZ 114; signed Kofi");
});

test("only what differs is counted out", () => {
  const all = {
    verified: 9,
    changed: 1,
    missing: 0,
    unreadable: 2,
    renamed: 0,
    new: 0,
    unknown: 0,
  };
  expect(differences({ ...all, next_check_on: null, warnings: [] })).toBe(
    "1 changed, 2 unreadable",
  );
});

test("what is kept and what lacks are said in words, not in digits", () => {
  const kept = {
    amount: { files: 1, bytes: 5 },
    failing: ["three copies", "one off site"],
    holds: false,
    ladder: { level: 1 } as never,
    next_needs: ["a third copy"],
    three_two_one: { copies: 1, media: 1, off_site: 0 } as never,
  };
  expect(copiesWords(kept)).toBe(
    "1 copy on 1 medium, none off site; lacks three copies, one off site",
  );
  expect(levelWords(kept)).toBe("level 1; the next needs a third copy");
});

test("a label's code opens the drive's page", () => {
  expect(driveAddress("https://h.example", "s1", "d1")).toBe(
    "https://h.example/s/s1/footage/drives?record=d1",
  );
  expect(codeImage("x")).toMatch(/^data:image\/svg\+xml,%3Csvg/);
});

test("a loss is named by what was chosen, not by all that goes with it", () => {
  const drive = (id: string) => ({ id, label: `BERTH ${id}` });
  const data = { lost: [drive("1"), drive("2"), drive("3")], not_counted: [drive("9")] };
  const title = (drives?: string, place?: string) => lossTitle(data, { drives, place });
  expect(title("1")).toBe("If BERTH 1 died");
  expect(title("1,2")).toBe("If BERTH 1 and BERTH 2 died");
  expect(title("1,2,9")).toBe("If BERTH 1, BERTH 2 and BERTH 9 died");
  expect(title(undefined, "Mill")).toBe("If all at Mill were lost: BERTH 1, BERTH 2 and BERTH 3");
  expect(title("2", "Mill")).toBe("If BERTH 2 and all at Mill were lost");
});

test("a card without files of its own names the card whose content it holds", () => {
  const card = (name: string, files: number) => ({ name, files });
  expect(elsewhereWords([])).toBe("");
  expect(elsewhereWords([card("A012", 8)])).toBe("All of its 8 files are the content of A012.");
  expect(elsewhereWords([card("A012", 1)])).toBe("Its one file is the content of A012.");
  expect(elsewhereWords([card("A012", 8), card("B001", 1)])).toBe(
    "What lies in its folders is the content of other cards: 8 files of A012 and 1 file of B001.",
  );
});
