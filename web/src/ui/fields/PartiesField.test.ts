import { expect, test } from "vitest";
import { type Party, partyFault, partyWords, percentWords, sums } from "./PartiesField";

const party = (name: string, role: string, share: number | null): Party => ({
  name,
  role,
  society: "",
  ipi: "",
  share,
});

// The shares of rulebook R12: W 50+25+25, P 50+25+25, and three thirds.
test("shares of each side are added up as entered", () => {
  const parties = [
    party("Vesna Tarrow", "composer", 5000),
    party("Col Addlestrop", "author", 2500),
    party("Ines Corrow", "arranger", 2500),
    party("Foxglove Row Music", "publisher", 5000),
    party("Lantern Hymnals", "sub_publisher", 2500),
    party("Harbour Choir", "performer", null),
  ];
  expect(sums(parties)).toBe("writers 100 %, publishers 75 %");
  expect(sums([1, 2, 3].map((n) => party(`W${n}`, "composer", 3333)))).toBe("writers 99.99 %");
  expect(sums([])).toBe("");
});

test("a party in words, and what is wrong with it", () => {
  expect(partyWords(party("Vesna Tarrow", "composer", 3333))).toBe(
    "Vesna Tarrow: composer, 33.33 %",
  );
  expect(partyWords(party("Col", "author", null))).toBe("Col: author, share not entered");
  expect(percentWords(1250)).toBe("12.5 %");
  expect(partyFault(party(" ", "composer", null))).toBe("has no name");
  expect(partyFault(party("Col", "author", 10_001))).toBe("has a share that is no part of 100 %");
  expect(partyFault(party("Col", "author", 10_000))).toBeNull();
});
