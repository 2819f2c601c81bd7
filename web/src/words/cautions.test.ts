// Which cautions stand beside which element and release.
import { expect, test } from "vitest";
import { cautions, elementCautions, releaseCautions } from "./cautions";

// Source: rulebook 7, cautions 2, 3, 5, 6 and 7.
test("each caution stands where it belongs, once, and nowhere else", () => {
  expect(elementCautions("person", [], undefined)).toEqual([cautions.scan]);
  expect(elementCautions("person", ["guardian_missing", "not_checked"], undefined)).toEqual([
    cautions.scan,
    cautions.minor,
  ]);
  expect(
    elementCautions("person", ["face_must_be_blurred", "clean_cover_undoes_blur"], undefined),
  ).toEqual([cautions.scan, cautions.anonymity]);
  // A ground that covers everything needed has no reason to show, and needs its lawyer all the same.
  expect(elementCautions("newspaper", [], "fair_dealing")).toEqual([cautions.ground]);
  expect(elementCautions("artwork", ["no_lawyers_note"], "incidental")).toEqual([cautions.ground]);
  expect(elementCautions("artwork", ["no_lawyers_note"], undefined)).toEqual([cautions.ground]);
  expect(elementCautions("music", ["public_domain_estimate"], undefined)).toEqual([
    cautions.publicDomain,
  ]);
  expect(elementCautions("graphic", [], "own")).toEqual([]);
});

test("a release of a child and one with a promised disguise have their cautions", () => {
  expect(releaseCautions({ kind: "appearance", restrictions: [] })).toEqual([]);
  expect(releaseCautions({ kind: "minor" })).toEqual([cautions.minor]);
  expect(releaseCautions({ kind: "minor", restrictions: [{ kind: "no_name" }] })).toEqual([
    cautions.minor,
    cautions.anonymity,
  ]);
});
