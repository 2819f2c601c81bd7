// What is asked for stands in the address under the names that the server gives it; so a view can be sent on.
import type { components, operations } from "../../api/schema.gen";
import type { PageSearch } from "../../app/search";
import { counted, wholeWords } from "../../words/amounts";
import type { Word } from "../../words/states";

export type FileItem = components["schemas"]["FileItem"];
export type Facet = components["schemas"]["Facet"];
export type Meant = components["schemas"]["Meant"];
export type FileQuery = NonNullable<operations["list_files"]["parameters"]["query"]>;

/** Everything that narrows a search. */
export const filters = [
  "q",
  "card",
  "drive",
  "day",
  "on",
  "camera",
  "roll",
  "logged",
  "person",
  "place",
  "asset",
  "music",
  "kind",
  "rank",
  "shot",
  "timecode",
  "hash",
  "spoken",
] as const;

export type FilterName = (typeof filters)[number];

/** The part of the address that the server is asked with. */
export function queryOf(search: PageSearch): FileQuery {
  const asked = filters.flatMap((name) => (search[name] ? [[name, search[name]]] : []));
  return Object.fromEntries(asked) as FileQuery;
}

/** The same as text, to be kept under a name. */
export const textOf = (search: PageSearch): string =>
  new URLSearchParams(queryOf(search) as Record<string, string>).toString();

/** What a kept search puts into the address: its own filters, and none of those that stood there. */
export function searchOf(text: string): PageSearch {
  const none = Object.fromEntries(filters.map((name) => [name, undefined]));
  const kept = [...new URLSearchParams(text)].filter(([name]) =>
    (filters as readonly string[]).includes(name),
  );
  return { ...none, ...Object.fromEntries(kept) };
}

/** People stand in the address with commas between. */
export const peopleOf = (search: PageSearch): string[] =>
  (search.person ?? "").split(",").filter(Boolean);

export const fileKinds: readonly Word[] = [
  { value: "picture", word: "picture" },
  { value: "sound", word: "sound" },
  { value: "other", word: "other files" },
];

/** Kinds of shot (server: db::shots). */
export const shotKinds: readonly Word[] = [
  { value: "interview", word: "interview" },
  { value: "piece_to_camera", word: "piece to camera" },
  { value: "actuality", word: "actuality" },
  { value: "general_view", word: "general view" },
  { value: "establishing", word: "establishing shot" },
  { value: "wide", word: "wide shot" },
  { value: "medium", word: "medium shot" },
  { value: "close_up", word: "close-up" },
  { value: "cutaway", word: "cutaway" },
  { value: "insert", word: "insert" },
  { value: "aerial", word: "aerial" },
  { value: "archive", word: "archive" },
  { value: "wild_track", word: "wild track" },
];

/** Ranks of selects (server: db::shots). */
export const ranks: readonly Word[] = [
  { value: "1", word: "1, must be in" },
  { value: "2", word: "2, strong" },
  { value: "3", word: "3, usable" },
];

/** `“gymansium” stands nowhere; these have “gymnasium”.` */
export function readAsWords(read: readonly { typed: string; words: readonly string[] }[]): string {
  return read
    .map(({ typed, words }) => {
      const meant = words.map((word) => `“${word}”`);
      const last = meant.pop();
      const list = meant.length > 0 ? `${meant.join(", ")} or ${last}` : last;
      return `“${typed}” stands nowhere; these have ${list}.`;
    })
    .join(" ");
}

/** What was typed without the words that a name has: `harbour tolley` and `Ines Tolley` leave `harbour`. */
export function withoutWords(typed: string | undefined, name: string): string | undefined {
  const known = plain(name);
  const rest = (typed ?? "").split(/\s+/).filter((word) => !known.includes(plain(word)));
  return rest.join(" ") || undefined;
}

/** Letters without marks, small, as the server compares them (domain: footage/words). */
const plain = (text: string) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();

/** Whether a text can be a digest (domain: hashes). */
export const isDigest = (text: string): boolean =>
  /^(?:[\da-f]{16}|[\da-f]{32}|[\da-f]{40}|[\da-f]{64}|[\da-f]{128})$/i.test(text) ||
  /^c4[1-9A-HJ-NP-Za-km-z]{88}$/.test(text);

/** What is said of a text that is none; nothing is looked for by it. */
export const noDigest = (text: string): string =>
  `This is no digest (${counted(text.length, "character")}), so it is not looked for. Known are 16 hexadecimal digits (xxh3, xxh64), 32 (xxh128, md5), 40 (sha1), 64 (sha256), 128 (sha512), and c4 with 88 letters and digits after it.`;

/** `1 file`, `36 of 212 files`, `1,200 of more than 1,000 files`. */
export function countWords(shown: number, total: number | null): string {
  const seen = wholeWords(shown);
  if (total === null || total === shown) return counted(shown, "file");
  return `${seen} of ${total > 1000 ? "more than 1,000 files" : counted(total, "file")}`;
}
