// Every closed list of the records in plain words, with the pattern that a state is drawn in
// (rulebook 6). The word always stands beside the pattern.

export type Pattern =
  | "covered"
  | "ends_soon"
  | "restricted"
  | "gap"
  | "unknown"
  | "not_logged"
  | "none";

export interface Word {
  value: string;
  word: string;
  pattern?: Pattern;
}

const list = (...rows: [value: string, word: string, pattern?: Pattern][]): readonly Word[] =>
  rows.map(([value, word, pattern]) => (pattern ? { value, word, pattern } : { value, word }));

const WORST_FIRST: readonly (Pattern | undefined)[] = [
  "gap",
  "unknown",
  "not_logged",
  "ends_soon",
  "restricted",
  "covered",
];

/** How much a state needs somebody, the most first; for the order of a list. */
export function urgency(words: readonly Word[], value: unknown): number {
  const at = WORST_FIRST.indexOf(words.find((word) => word.value === value)?.pattern);
  return at < 0 ? WORST_FIRST.length : at;
}

export const episodeStates = list(
  ["shooting", "shooting", "none"],
  ["cutting", "cutting", "none"],
  ["locked", "locked", "none"],
  ["delivering", "delivering", "none"],
  ["delivered", "delivered", "covered"],
  ["on_air", "on air", "covered"],
  ["window_closing", "window closing", "ends_soon"],
);

export const sceneKinds = list(
  ["cold_open", "cold open"],
  ["titles", "titles"],
  ["scene", "scene"],
);

export const releaseKinds = list(
  ["appearance", "appearance"],
  ["minor", "appearance, under 18"],
  ["location", "location"],
  ["materials", "materials"],
  ["artwork", "artwork"],
  ["crowd_notice", "crowd notice"],
  ["crew", "crew"],
  ["school", "school's permission"],
  ["team", "team's permission"],
  ["league", "league's permission"],
);

export const permissions = list(
  ["school", "the school's"],
  ["team", "the team's"],
  ["league", "the league's"],
);

export const consentPoints = list(
  ["subject_and_format", "subject and format"],
  ["why_them", "why this person"],
  ["live_recorded_edited", "live, recorded, edited"],
  ["first_shown", "where and when first shown"],
  ["questions", "areas of questioning"],
  ["preview_and_correct", "preview and correction"],
  ["welfare_risks", "risks to welfare, and what is done about them"],
);

export const issuedKinds = list(
  ["report", "clearance report"],
  ["third_party", "third-party material log"],
  ["credits", "credit list"],
  ["checklist", "clearance checklist for the insurer"],
  ["chain_of_title", "chain of title"],
);

/** From whom somebody was promised to be hidden. */
export const hiddenFrom = list(
  ["public", "from viewers who do not know them"],
  ["people_who_know_them", "from people who know them, too"],
);

export const withdrawalStages = list(
  ["requested", "asked for"],
  ["holding", "uses held until decided"],
  ["accepted", "accepted"],
  ["declined", "declined"],
  ["acted", "something done in a cut"],
);

export const favoured = list(
  ["same_piece", "as any party to the same piece"],
  ["whole_programme", "as any licensor of the programme"],
);

export const contentPresences = list(
  ["in_shot", "seen"],
  ["heard", "heard"],
  ["on_camera", "on camera"],
  ["voice", "voice only"],
  ["background", "in the background"],
);

export const contentFaces = list(
  ["shown", "face shown"],
  ["hidden", "face hidden"],
  ["blurred", "face blurred"],
  ["not_applicable", "no face"],
);

export const releaseStates = list(
  ["not_asked", "not asked", "gap"],
  ["asked", "asked", "unknown"],
  ["signed_not_checked", "signed, not checked", "unknown"],
  ["ok", "OK", "covered"],
  ["problem", "problem", "gap"],
  ["restricted_ok", "restricted, OK", "restricted"],
  ["withdrawn_being_decided", "withdrawn, being decided", "gap"],
  ["not_needed", "not needed", "none"],
);

export const signers = list(
  ["self", "the person"],
  ["guardian", "a guardian"],
  ["owner", "the owner"],
  ["other", "somebody else"],
);

export const ageBands = list(["adult", "adult"], ["minor", "under 18"]);

export const assetClasses = list(
  ["still", "still"],
  ["archive", "archive film"],
  ["web", "found on the web"],
  ["phone_video", "phone video"],
  ["sound_effect", "sound effect"],
  ["font", "typeface"],
  ["graphic", "graphic"],
  ["artwork", "artwork"],
  ["brand", "brand or logo"],
  ["newspaper", "newspaper or print"],
  ["made_by_machine", "made by a machine"],
  ["other", "other"],
);

export const bases = list(
  // Whether the paper reaches the delivery is said under Elements: a ground alone covers nothing.
  ["licensed", "licensed", "none"],
  ["released", "released by its owner", "none"],
  ["public_domain", "public domain (estimate)", "restricted"],
  ["fair_use", "fair use", "restricted"],
  ["fair_dealing", "fair dealing", "restricted"],
  ["incidental", "incidental", "restricted"],
  ["own", "our own", "covered"],
  ["creative_commons", "Creative Commons", "restricted"],
  ["not_needed", "nothing needed", "none"],
  ["unknown", "unknown", "unknown"],
);

export const musicOrigins = list(
  ["commercial", "commercial"],
  ["production", "production music"],
  ["commissioned", "commissioned"],
  ["live", "live or incidental"],
);

export const shareConventions = list(
  ["each_side", "writers 100 %, publishers 100 %"],
  ["together", "writers and publishers together 100 %"],
);

export const cueUsages = list(
  ["background", "background"],
  ["featured", "featured (visual)"],
  ["theme", "theme"],
  ["logo", "logo"],
);

export const cueVocals = list(["vocal", "vocal"], ["instrumental", "instrumental"]);

export const cueRoundings = list(
  ["nearest", "to the nearest second"],
  ["up", "every second begun counts"],
);

export const cueOverlaps = list(
  ["second_begins_after", "the second counts from where the first ends"],
  ["as_heard", "each counts as long as it is heard"],
);

export const cueTotals = list(
  ["of_frames", "all frames, rounded once"],
  ["of_cues", "sum of the rounded cues"],
);

export const licenceSides = list(
  ["whole", "the whole asset"],
  ["composition", "composition (sync)"],
  ["recording", "recording (master use)"],
  ["both", "both sides (one party)"],
);

export const licenceStates = list(
  ["temp", "temp, do not deliver", "gap"],
  ["asking", "asking", "unknown"],
  ["quoted", "quoted", "unknown"],
  ["agreed_unsigned", "agreed, unsigned", "unknown"],
  ["signed", "signed", "covered"],
  ["paid", "paid", "covered"],
  ["replaced", "replaced", "none"],
);

export const deliverableStates = list(
  ["not_started", "not started", "none"],
  ["in_work", "in work", "none"],
  ["ready", "ready", "none"],
  ["sent", "sent, not yet accepted", "unknown"],
  ["accepted", "accepted", "covered"],
  ["rejected", "rejected", "gap"],
  ["waived", "waived", "none"],
);

export const driveKinds = list(
  ["hdd", "hard disk"],
  ["ssd", "solid state"],
  ["lto", "tape"],
  ["raid", "disk array"],
  ["cloud", "online store"],
  ["other", "other"],
);

export const driveStates = list(
  ["fine", "fine", "covered"],
  ["check_due", "check due", "ends_soon"],
  ["mismatch", "mismatch", "gap"],
  ["missing", "missing", "gap"],
  ["retired", "retired", "none"],
);

export const cardStates = list(
  ["in_camera", "in camera", "gap"],
  ["offloading", "offloading", "unknown"],
  ["two_copies_checked", "two copies checked", "covered"],
  ["safe_to_wipe", "safe to wipe", "covered"],
  ["wiped", "wiped", "none"],
);

export const mailChoices = list(
  ["each", "A mail for each reminder"],
  ["digest", "One mail a day"],
  ["none", "No mail"],
);

export const roles = list(
  ["series_producer", "series producer"],
  ["counsel", "executive or counsel"],
  ["post_supervisor", "post supervisor"],
  ["associate_producer", "associate producer"],
  ["coordinator", "production coordinator"],
  ["editor", "editor"],
  ["music_supervisor", "music supervisor"],
  ["delivery_contact", "broadcaster's delivery contact"],
  ["data_lead", "data lead"],
);

export function wordFor(words: readonly Word[], value: unknown): string {
  return words.find((word) => word.value === value)?.word ?? String(value ?? "");
}

/** A value that this page does not know is drawn as unknown, never as covered. */
export function patternFor(words: readonly Word[], value: unknown): Pattern {
  return words.find((word) => word.value === value)?.pattern ?? "unknown";
}

/** How far somebody said what a file shows (server: footage::logged). */
export const loggedWords = list(
  ["no", "not logged", "not_logged"],
  ["partly", "logged in part", "not_logged"],
  ["yes", "logged", "covered"],
);

export const copyStates = list(
  ["verified", "verified", "covered"],
  ["changed", "changed since", "gap"],
  ["missing", "missing", "gap"],
  ["unreadable", "unreadable", "gap"],
);

/** How a drive was read (server: verification::CheckKind). */
export const checkKinds = list(
  ["scan", "scanned"],
  ["copy", "copied and read back"],
  ["verify", "verified"],
);

/** What a verification found that is not as it was. */
export const faultResults = list(
  ["changed", "changed", "gap"],
  ["missing", "missing", "gap"],
  ["unreadable", "unreadable", "gap"],
  ["renamed", "renamed", "none"],
  ["new", "new", "none"],
  ["unknown", "can't be told", "unknown"],
);

export const custodyKinds = list(
  ["handed_over", "handed over"],
  ["moved", "moved"],
  ["dropped", "dropped or knocked"],
  ["repaired", "repaired"],
);
