// What is set for a whole series: the same description serves the first form and the settings.
import type { Field } from "../../ui/record/description";

const zones = (): { value: string; word: string }[] =>
  Intl.supportedValuesOf("timeZone").map((zone) => ({
    value: zone,
    word: zone.replaceAll("_", " "),
  }));

const rates = ["23.976", "24", "25", "29.97", "29.97df", "30", "50", "59.94", "59.94df", "60"];

export const seriesFields: readonly Field[] = [
  { type: "text", name: "title", label: "Title", required: true },
  {
    type: "text",
    name: "producer_entity",
    label: "Production entity",
    help: "The company that releases must name.",
    matters: true,
  },
  {
    type: "select",
    name: "zone",
    label: "Time zone",
    words: zones(),
    required: true,
    initial: Intl.DateTimeFormat().resolvedOptions().timeZone,
    help: "Deadlines and reminders are kept in it.",
  },
  {
    type: "select",
    name: "frame_rate",
    label: "Usual frame rate",
    words: rates.map((rate) => ({
      value: rate,
      word: rate.endsWith("df") ? `${rate.slice(0, -2)} drop-frame` : rate,
    })),
    required: true,
    initial: "25",
  },
  {
    type: "text",
    name: "roll_pattern",
    label: "Pattern of card names",
    required: true,
    initial: "{date:YYYYMMDD}_{card}_{camera}_{words}",
    help: "How roll folders are named, date first, so that they sort in the order of shooting.",
  },
  {
    type: "select",
    name: "roll_restart",
    label: "Numbers of cards begin again",
    words: [
      { value: "never", word: "never" },
      { value: "each_day", word: "each shoot day" },
    ],
    required: true,
    initial: "never",
    help: "By this, a gap or a number used twice is told from a fresh start.",
  },
  { type: "date", name: "shoot_from", label: "Shoot from", group: "Shoot" },
  { type: "date", name: "shoot_to", label: "Shoot to", group: "Shoot" },
  {
    type: "whole",
    name: "adult_at",
    label: "Signs for themself from",
    unit: "years",
    min: 14,
    max: 21,
    required: true,
    initial: 18,
    group: "Releases",
    help: "Local law decides.",
  },
  {
    type: "yesNo",
    name: "consideration_required",
    label: "A release must say what was given in return",
    group: "Releases",
    initial: true,
  },
  {
    type: "whole",
    name: "check_months",
    label: "Read each drive again after",
    unit: "months",
    min: 1,
    max: 60,
    required: true,
    initial: 6,
    group: "Keeping footage",
    help: "Sooner after it was moved, dropped or repaired.",
  },
  {
    type: "yesNo",
    name: "copies_apart",
    label: "A card is safe only with copies in two places",
    group: "Keeping footage",
    initial: false,
  },
  {
    type: "text",
    name: "main_place",
    label: "Main place",
    max: 500,
    group: "Keeping footage",
    help: "As it is written at its drives. A copy anywhere else is off site; when empty, the place with the most copies is the main one.",
  },
  {
    type: "dates",
    name: "holidays",
    label: "Holidays",
    group: "Working days",
    help: "One date to a line. Working days skip them and the weekends.",
  },
];
