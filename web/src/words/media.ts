// The tree of media that grants and needs are written in; a branch includes its leaves.
// Mirrors the table in server/domain/src/rights/medium.rs, words included.
export interface Medium {
  value: string;
  word: string;
  children?: readonly Medium[];
}

export const mediaTree: readonly Medium[] = [
  {
    value: "television",
    word: "television",
    children: [
      { value: "television.free", word: "free television" },
      { value: "television.pay", word: "pay television" },
    ],
  },
  {
    value: "on_demand",
    word: "video on demand",
    children: [
      { value: "on_demand.subscription", word: "subscription on demand" },
      { value: "on_demand.advertising", word: "advertising-paid on demand" },
      { value: "on_demand.transactional", word: "pay-per-title on demand" },
      { value: "on_demand.catch_up", word: "catch-up" },
    ],
  },
  { value: "cinema", word: "cinema" },
  { value: "festival", word: "festivals" },
  { value: "education", word: "education" },
  { value: "carriers", word: "airlines and ships" },
  { value: "physical", word: "discs" },
  {
    value: "online",
    word: "online",
    children: [
      { value: "online.site", word: "the own site" },
      { value: "online.social", word: "social media" },
    ],
  },
  {
    value: "promo",
    word: "promotion",
    children: [
      { value: "promo.in_context", word: "promotion in context" },
      { value: "promo.out_of_context", word: "promotion out of context" },
    ],
  },
];

const flat = mediaTree.flatMap((medium) => [medium, ...(medium.children ?? [])]);

export function mediumWord(value: string): string {
  if (value === "all") return "all media";
  return flat.find((medium) => medium.value === value)?.word ?? value;
}
