// The six questions before a repeat (rulebook R26): each answered where it is read, saved at once, with undo.
import { Select } from "@mantine/core";
import { useState } from "react";
import { useRecordChanges } from "../../api/records";
import type { components } from "../../api/schema.gen";
import { useMe } from "../../api/session";
import type { SavedRecord } from "../../api/types";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { NoteInput } from "../../ui/fields/NoteInput";
import { ErrorNote } from "../../ui/Notes";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { showDate, today } from "../../words/dates";

type Check = components["schemas"]["RepeatCheck"];
type Answer = components["schemas"]["RepeatAnswer"];

export const questions: readonly { value: Answer["question"]; word: string }[] = [
  { value: "contributor_died", word: "Has anybody who appears died?" },
  { value: "comments_on_the_dead", word: "Does anybody comment on somebody who recently died?" },
  { value: "accused_or_convicted", word: "Has anybody who appears been accused or convicted?" },
  { value: "comments_on_accused", word: "Does anybody comment on somebody who is accused?" },
  { value: "language_or_behaviour", word: "Has language or behaviour become unacceptable?" },
  { value: "licence_lapsed", word: "Has a licence lapsed?" },
];

const choices = [
  { value: "open", label: "not answered" },
  { value: "no", label: "no" },
  { value: "yes", label: "yes, there is something" },
];

const checkOf = (showing: SavedRecord): Check => ({
  answers: [],
  answered_by: "",
  answered_on: null,
  ...(showing.repeat_check as Partial<Check> | null),
});

/** Whether the six questions are answered, at a glance. */
export function repeatWords(showing: SavedRecord): string {
  const { answers = [] } = checkOf(showing);
  const open = questions.filter((one) => !answers.some((a) => a.question === one.value)).length;
  return open > 0
    ? `repeat; ${open} of ${questions.length} questions open`
    : "repeat; all answered";
}

/** What the server takes of a showing. */
const bodyOf = (showing: SavedRecord, repeat_check: Check) => {
  const { episode_id, day, at_time, territories, media, repeat, notes } = showing;
  return { episode_id, day, at_time, territories, media, repeat, notes, repeat_check };
};

export function RepeatCheck({ showing }: { showing: SavedRecord }) {
  const series = useSeriesId();
  const me = useMe();
  const may = useMay("edit_deliverables");
  const toasts = useToasts();
  const { save } = useRecordChanges(series, "showings");
  const check = checkOf(showing);
  const answers = check.answers ?? [];
  const put = async (question: Answer["question"], answer: Answer | null) => {
    const rest = answers.filter((one) => one.question !== question);
    const next = {
      answers: answer ? [...rest, answer] : rest,
      answered_by: me.user.name,
      answered_on: today(),
    };
    const { id, version } = showing;
    const after = await save.mutateAsync({ id, version, body: bodyOf(showing, next) });
    toasts.offerUndo("The answer was saved.", () =>
      save.mutateAsync({ id, version: after.version, body: bodyOf(after, check) }),
    );
  };
  return (
    <section aria-label="Before the repeat">
      <h3>Before the repeat</h3>
      <ErrorNote error={save.error} saving />
      <ol>
        {questions.map(({ value, word }) => (
          <Question
            key={value}
            word={word}
            answer={answers.find((one) => one.question === value)}
            may={may}
            put={(answer) => put(value, answer && { question: value, ...answer })}
          />
        ))}
      </ol>
      {check.answered_on && (
        <p className="quiet small">
          Answered by {check.answered_by}, {showDate(check.answered_on)}.
        </p>
      )}
    </section>
  );
}

function Question({
  word,
  answer,
  may,
  put,
}: {
  word: string;
  answer: Answer | undefined;
  may: boolean;
  put: (answer: Pick<Answer, "yes" | "note"> | null) => Promise<void>;
}) {
  const note = answer?.note ?? "";
  // A fault stands above the questions.
  const choose = (next: Parameters<typeof put>[0]) => put(next).catch(() => {});
  // A yes says what there is, so it is saved once that is written.
  const [yes, setYes] = useState(false);
  const value = yes ? "yes" : answer === undefined ? "open" : answer.yes ? "yes" : "no";
  const words = choices.find((one) => one.value === value)?.label;
  const pattern = answer === undefined ? "unknown" : answer.yes ? "restricted" : "covered";
  return (
    <li>
      <Stated pattern={pattern}>{word}</Stated>
      {may ? (
        <div className="no-print" style={{ display: "flex", flexWrap: "wrap", gap: "4px 10px" }}>
          <Select
            size="xs"
            aria-label={`Answer: ${word}`}
            data={choices}
            value={value}
            allowDeselect={false}
            onChange={(next) => {
              setYes(next === "yes" && !note);
              if (next === "open") choose(null);
              else if (next === "no" || note) choose({ yes: next === "yes", note });
            }}
          />
          {(yes || answer !== undefined) && (
            <NoteInput
              size="xs"
              style={{ flex: "1 1 12rem" }}
              aria-label={`Note: ${word}`}
              placeholder="What, and what is done about it"
              note={note}
              description={yes ? "Write it, and the answer is saved." : undefined}
              save={async (typed) => {
                await put({ yes: value === "yes", note: typed });
                if (typed) setYes(false);
              }}
            />
          )}
        </div>
      ) : (
        <div>
          {words}
          {note && `: ${note}`}
        </div>
      )}
      {may && <div className="print-only">{[words, note].filter(Boolean).join(": ")}</div>}
    </li>
  );
}
