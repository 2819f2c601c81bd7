// Which cards came back from a day.
import type { SavedRecord } from "../../api/types";

/** Whether a card is of this day: tied to it, or tied to none and of its date, as the server counts them. */
export const isOfDay = (card: SavedRecord, day: SavedRecord) =>
  card.shoot_day_id ? card.shoot_day_id === day.id : card.shot_on === day.day;
