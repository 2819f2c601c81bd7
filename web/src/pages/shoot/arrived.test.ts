import { expect, test } from "vitest";
import type { SavedRecord } from "../../api/types";
import { isOfDay } from "./arrived";

const saved = (fields: Partial<SavedRecord>) => fields as SavedRecord;

// As `db::card_states::arrivals` counts: a day that is entered after the scan has the cards of its date.
test("a card that is tied to no day belongs to that of its date", () => {
  const day = saved({ id: "d1", day: "2026-11-29" });
  expect(isOfDay(saved({ shoot_day_id: "d1", shot_on: "2026-11-28" }), day)).toBe(true);
  expect(isOfDay(saved({ shoot_day_id: null, shot_on: "2026-11-29" }), day)).toBe(true);
  expect(isOfDay(saved({ shoot_day_id: "d2", shot_on: "2026-11-29" }), day)).toBe(false);
  expect(isOfDay(saved({ shoot_day_id: null, shot_on: null }), day)).toBe(false);
});
