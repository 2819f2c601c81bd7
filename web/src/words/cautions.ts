// The standing cautions (rulebook 7) that belong to one thing rather than to a whole page, and when each is shown.

export const cautions = {
  scan: "A signed form is not informed consent: that is what the person was told.",
  minor:
    "Under 18, welfare comes first: an immediate concern goes to the safeguarding lead or the emergency services, not into a note.",
  personal:
    "Bring in only what is needed, and leave out columns that are not. Health, belief and what was told in confidence belong in a sealed note, not in a list.",
  anonymity:
    "A promised anonymity is lost through file names, exports, logs, captions and clean covers too: look at each of them.",
  ground:
    "Fair use, fair dealing and incidental inclusion need a lawyer, do not hold abroad, and do not cover promotion.",
  publicDomain: "That something is in the public domain is an estimate, territory by territory.",
} as const;

const HIDING = ["blur_face", "change_voice", "no_name", "named_as"];

/** For a release, by its kind and by what was promised. */
export function releaseCautions(release: Readonly<Record<string, unknown>>): string[] {
  const promised = (release.restrictions as { kind: string }[] | undefined) ?? [];
  return [
    release.kind === "minor" ? cautions.minor : "",
    promised.some(({ kind }) => HIDING.includes(kind)) ? cautions.anonymity : "",
  ].filter(Boolean);
}

const byCode: readonly [caution: string, codes: readonly string[]][] = [
  [cautions.minor, ["guardian_missing", "age_unknown", "comes_of_age"]],
  [
    cautions.anonymity,
    [
      "face_must_be_blurred",
      "voice_must_be_changed",
      "name_must_not_be_shown",
      "named_otherwise",
      "disguise_not_agreed",
      "disguise_too_weak",
      "clean_cover_undoes_blur",
    ],
  ],
  [cautions.ground, ["no_lawyers_note", "not_incidental", "fair_use_incomplete"]],
  [
    cautions.publicDomain,
    ["public_domain_where", "public_domain_estimate", "public_domain_too_young"],
  ],
];

const byGround: Readonly<Record<string, string>> = {
  fair_use: cautions.ground,
  fair_dealing: cautions.ground,
  incidental: cautions.ground,
  public_domain: cautions.publicDomain,
};

/** For an element of a cut, by what it is, by its reasons, and by the ground of its record where that may be seen. */
export function elementCautions(
  kind: string,
  codes: readonly string[],
  ground: string | undefined,
): string[] {
  const found = [
    kind === "person" ? cautions.scan : "",
    (ground && byGround[ground]) || "",
    ...byCode.map(([caution, those]) =>
      codes.some((code) => those.includes(code)) ? caution : "",
    ),
  ];
  return [...new Set(found)].filter(Boolean);
}
