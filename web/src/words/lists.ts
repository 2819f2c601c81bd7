// Several names in a sentence.

/** `A`, `A and B`, `A, B and C` (as `domain::wording::and_list`). */
export const andList = (names: readonly string[]): string =>
  names.length < 2 ? names.join() : `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`;
