// Rulebook 3.1: request, holding, decision, action; a new request may follow a decision.
import { expect, test } from "vitest";
import type { SavedRecord } from "../../api/types";
import { bodyWith, nextStages, type Stage, type Step } from "./withdrawalSteps";

const step = (stage: Stage): Step => ({ step: stage, by: "Ines", on: null, words: "" });
const after = (...stages: Stage[]) => nextStages(stages.map(step), true);

test("what may come next", () => {
  expect(after()).toEqual(["requested"]);
  expect(after("requested")).toEqual(["holding", "accepted", "declined", "acted"]);
  expect(after("requested", "holding", "acted")).toEqual(["accepted", "declined", "acted"]);
  expect(after("requested", "declined")).toEqual(["acted", "requested"]);
  expect(nextStages([step("requested"), step("holding")], false)).toEqual(["acted"]);
});

test("the state follows the step", () => {
  const release = {
    id: "1",
    version: 3,
    status: "withdrawn_being_decided",
    signed_on: "2029-01-02",
    restrictions: [{ kind: "blur_face" }],
    details: { chaperone: "Kit", withdrawal_steps: [step("requested")] },
  } as unknown as SavedRecord;
  const declined = bodyWith(release, step("declined"));
  expect(declined).not.toHaveProperty("version");
  expect([declined.status, declined.withdrawal]).toEqual(["restricted_ok", "declined"]);
  expect(declined.details).toMatchObject({ chaperone: "Kit" });
  const accepted = bodyWith(release, step("accepted"));
  expect([accepted.status, accepted.status_note]).toEqual([
    "problem",
    "The withdrawal was accepted.",
  ]);
  const acted = bodyWith(release, step("acted"));
  expect([acted.status, acted.withdrawal]).toEqual(["withdrawn_being_decided", undefined]);
});
