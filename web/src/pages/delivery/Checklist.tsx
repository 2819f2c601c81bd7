// The insurer's checklist: for each point what the records say, and a person's answer. A point closes only when both do.

import { Select } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { blocks } from "../../api/blocks";
import {
  type ChecklistBody,
  type ChecklistPoint,
  checklistQuery,
  useChecklistAnswer,
} from "../../api/papers";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { NoteInput } from "../../ui/fields/NoteInput";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { showInstant } from "../../words/dates";

const answers = [
  { value: "open", label: "not answered" },
  { value: "yes", label: "yes" },
  { value: "no", label: "no" },
  { value: "not_applicable", label: "does not apply" },
];

export function Checklist({
  episode,
  asked,
}: {
  episode: string;
  asked: { spec: string; cut: string };
}) {
  const series = useSeriesId();
  const query = useQuery(checklistQuery(series, episode, asked));
  const licences = useMay("edit_licences");
  const approves = useMay("approve");
  const answer = useChecklistAnswer(series, episode);
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the checklist" />;
  return (
    <section>
      <h2>Points</h2>
      <ErrorNote error={answer.error} saving />
      <ol>
        {query.data.points.map((point) => (
          <Point key={point.item} point={point} may={licences || approves} answer={answer} />
        ))}
      </ol>
    </section>
  );
}

function Point({
  point,
  may,
  answer,
}: {
  point: ChecklistPoint;
  may: boolean;
  answer: ReturnType<typeof useChecklistAnswer>;
}) {
  const { note } = point;
  const toasts = useToasts();
  const before: ChecklistBody = { answer: point.answer, note: point.note };
  const save = async (body: ChecklistBody) => {
    const { item, version } = point;
    const after = await answer.mutateAsync({ item, version, body });
    toasts.offerUndo("The answer was saved.", () =>
      answer.mutateAsync({ item, version: after.version, body: before }),
    );
  };
  return (
    <li style={{ marginBottom: 16, paddingLeft: 6 }}>
      <Stated pattern={point.open ? "gap" : "covered"}>{point.words}</Stated>
      {point.records.map((words) => (
        <div key={words} className={point.records_open ? undefined : "quiet"}>
          {words}
        </div>
      ))}
      {may ? (
        <div className="no-print" style={{ display: "flex", flexWrap: "wrap", gap: 10 }}>
          <Select
            size="xs"
            aria-label={`Answer: ${point.words}`}
            data={answers}
            value={point.answer}
            allowDeselect={false}
            // A fault stands above the points.
            onChange={(value) =>
              save({ answer: value as ChecklistBody["answer"], note }).catch(() => {})
            }
          />
          <NoteInput
            size="xs"
            aria-label={`Note: ${point.words}`}
            placeholder="Note; needed where it does not apply"
            style={{ flex: "1 1 16rem", maxWidth: "32rem" }}
            note={note}
            save={(typed) => save({ answer: point.answer, note: typed })}
          />
        </div>
      ) : (
        <div>
          {answers.find((one) => one.value === point.answer)?.label}
          {point.note && `: ${point.note}`}
        </div>
      )}
      {point.answered_at && (
        <div className="quiet small">
          {point.answered_by}, {showInstant(point.answered_at)}
        </div>
      )}
    </li>
  );
}
