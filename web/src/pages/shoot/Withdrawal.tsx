// The next step of a wish to withdraw, beside its release: request, holding, decision, action (rulebook 3.1). Who
// enters it, and the day, are the server's own note.
import { Button, Select, Textarea, TextInput } from "@mantine/core";
import { useRef, useState } from "react";
import { useRecordChanges } from "../../api/records";
import type { SavedRecord } from "../../api/types";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { DateField } from "../../ui/fields/DateField";
import { ErrorNote } from "../../ui/Notes";
import { useFocusKept } from "../../ui/record/focus";
import recordStyles from "../../ui/record/record.module.css";
import { useToasts } from "../../ui/Toasts";
import { withdrawalStages, wordFor } from "../../words/states";
import { bodyOf, bodyWith, nextStages, type Stage, type Step, stepsOf } from "./withdrawalSteps";

const follows: Record<Stage, string> = {
  requested: "It is noted and shown; nothing is held yet.",
  holding: "Every use is held: no cut that shows it is cleared until the wish is decided.",
  accepted: "The release no longer holds; every cut that uses it has a gap there.",
  declined: "The release holds again as it did before the request.",
  acted: "It is noted what was done, in which cut; where the wish stands stays as it is.",
};

export function Withdrawal({ release }: { release: SavedRecord }) {
  const may = useMay("edit_releases");
  const [open, setOpen] = useState(false);
  const head = useRef<HTMLHeadingElement>(null);
  useFocusKept(open, head);
  const asked = stepsOf(release).length > 0;
  if (!may) return null;
  return (
    <section className="no-print" aria-label="A wish to withdraw">
      <h3 ref={head} tabIndex={-1}>
        A wish to withdraw
      </h3>
      {open ? (
        <NextStep release={release} onDone={() => setOpen(false)} />
      ) : (
        <Button variant="default" size="compact-sm" onClick={() => setOpen(true)}>
          {asked ? "Enter the next step" : "Enter a request"}
        </Button>
      )}
    </section>
  );
}

function NextStep({ release, onDone }: { release: SavedRecord; onDone: () => void }) {
  const series = useSeriesId();
  const decides = useMay("decide_withdrawal");
  const toasts = useToasts();
  const { save } = useRecordChanges(series, "releases");
  const stages = nextStages(stepsOf(release), decides);
  const [typed, setTyped] = useState<Step>({
    step: stages[0] ?? "requested",
    by: "",
    on: null,
    words: "",
  });
  // Somebody else may enter a step meanwhile: the words stay, and what may follow is asked anew.
  const step: Step = stages.includes(typed.step)
    ? typed
    : { ...typed, step: stages[0] ?? "requested" };
  const set = (part: Partial<Step>) => setTyped((old) => ({ ...old, ...part }));
  const enter = async () => {
    const sent = { id: release.id, version: release.version, body: bodyWith(release, step) };
    const saved = await save.mutateAsync(sent).catch(() => null);
    if (!saved) return;
    onDone();
    const said = `Entered: ${wordFor(withdrawalStages, step.step)}.`;
    // Only who decides may make a step vanish again.
    if (!decides) return toasts.say(said);
    toasts.offerUndo(said, () =>
      save.mutateAsync({ id: release.id, version: saved.version, body: bodyOf(release) }),
    );
  };
  return (
    <form
      className={recordStyles.form}
      aria-label="The next step"
      onSubmit={(event) => {
        event.preventDefault();
        enter();
      }}
    >
      <Select
        label="What happened"
        description={
          decides ? undefined : "A series producer or counsel decides; until then, hold the uses."
        }
        data={stages.map((value) => ({ value, label: wordFor(withdrawalStages, value) }))}
        value={step.step}
        allowDeselect={false}
        onChange={(value) => set({ step: (value ?? "requested") as Stage })}
      />
      <p className="quiet small">{follows[step.step]}</p>
      {step.step === "requested" && (
        <TextInput
          label="Who asked"
          required
          maxLength={200}
          autoComplete="off"
          value={step.by}
          onChange={(event) => set({ by: event.currentTarget.value })}
        />
      )}
      <Textarea
        label={step.step === "acted" ? "What was done, in which cut" : "In what words, and why"}
        description="Only what is needed; it is shown to those who see sensitive notes."
        autosize
        minRows={2}
        maxLength={2000}
        value={step.words}
        onChange={(event) => set({ words: event.currentTarget.value })}
      />
      <DateField
        label="On another day than today"
        help="Then say above how that day is known."
        value={step.on}
        onChange={(on) => set({ on })}
      />
      <ErrorNote error={save.error} saving />
      <p>
        <Button type="submit" loading={save.isPending}>
          Enter it
        </Button>{" "}
        <Button variant="default" onClick={onDone}>
          Stop
        </Button>
      </p>
      <p className="quiet small">
        Your name and today's date are recorded with it. Generally nobody who was properly informed
        has a right to withdraw, but a reasonable objection is heard; counsel and local law decide.
      </p>
    </form>
  );
}
