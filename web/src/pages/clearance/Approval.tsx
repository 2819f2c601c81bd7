// The approval of a clearance: who, when, what of it still stands, what a later change reopened.
import { Button, Textarea } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useEffect, useRef, useState } from "react";
import { type ApprovalView, type ClearanceAnswer, elementStates } from "../../api/clearance";
import { ApiError, answered, api } from "../../api/client";
import { useSeries, useSeriesId } from "../../app/series";
import { Ask } from "../../ui/Ask";
import { ErrorNote } from "../../ui/Notes";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { counted, wholeWords } from "../../words/amounts";
import { showInstant } from "../../words/dates";
import { wordFor } from "../../words/states";
import type { Chosen } from "./CutAndSpec";
import { changedElements } from "./changed";
import styles from "./clearance.module.css";

export function Approval({ answer, episode, cut, spec }: Chosen & { answer: ClearanceAnswer }) {
  const series = useSeriesId();
  // Who runs the server does not thereby answer for the programme: no exception for administrators.
  const may = useSeries()?.actions.includes("approve") ?? false;
  const queries = useQueryClient();
  const toasts = useToasts();
  const [note, setNote] = useState("");
  // The answer that was on the page when its approval was begun.
  const [seen, setSeen] = useState<ClearanceAnswer | null>(null);
  // That answer again, when the server had another by then.
  const [late, setLate] = useState<ClearanceAnswer | null>(null);
  const head = useRef<HTMLHeadingElement>(null);
  const noteField = useRef<HTMLTextAreaElement>(null);
  const begun = seen !== null;
  useEffect(() => {
    if (begun) noteField.current?.focus();
  }, [begun]);
  const fold = () => {
    setSeen(null);
    head.current?.focus();
  };
  const refresh = () => queries.invalidateQueries({ queryKey: ["series", series] });
  const withdraw = (id: string) =>
    answered(
      api.POST("/api/series/{series}/approvals/{id}/withdraw", {
        params: { path: { series, id } },
      }),
    ).then(refresh);
  const approve = useMutation({
    mutationFn: () =>
      answered(
        api.POST("/api/series/{series}/episodes/{episode}/approvals", {
          params: { path: { series, episode: episode.id }, query: { spec, cut: cut.id } },
          body: { note, seen: seen?.fingerprint ?? "" },
        }),
      ),
    onError: async (error) => {
      if (!(error instanceof ApiError && error.status === 412)) return;
      await refresh();
      setLate(seen);
      fold();
    },
    onSuccess: async (made) => {
      fold();
      setNote("");
      await refresh();
      toasts.offerUndo(`Approved ${elementCount(made.covered)}.`, () => withdraw(made.id));
    },
  });
  const [asking, setAsking] = useState(false);
  const { approval } = answer;
  return (
    <section aria-label="Approval">
      <h2 ref={head} tabIndex={-1} className={styles.head}>
        Approval
      </h2>
      {approval ? (
        <Standing answer={answer} approval={approval} />
      ) : (
        <p>Nobody has approved this yet.</p>
      )}
      <ErrorNote error={approve.error} saving />
      {late && <Late then={late} now={answer} note={note} />}
      {begun ? (
        <form
          onSubmit={(event) => {
            event.preventDefault();
            approve.mutate();
          }}
        >
          <p>
            It covers every element that does not stand in the way, as it is now in {cut.name}. A
            later change reopens only what it touches.
          </p>
          <Textarea
            ref={noteField}
            label="Note"
            autosize
            minRows={2}
            value={note}
            onChange={(event) => setNote(event.currentTarget.value)}
          />
          <p>
            <Button type="submit" loading={approve.isPending}>
              Approve
            </Button>{" "}
            <Button variant="default" onClick={fold}>
              Not now
            </Button>
          </p>
        </form>
      ) : (
        <p className="no-print">
          <Button
            variant="default"
            size="compact-sm"
            disabled={!may}
            onClick={() => {
              approve.reset();
              setLate(null);
              setSeen(answer);
            }}
          >
            Approve what is cleared
          </Button>{" "}
          {may && approval && (
            <Button variant="default" size="compact-sm" onClick={() => setAsking(true)}>
              Take the approval back
            </Button>
          )}
          {!may && <span className="quiet">Series producers and counsel approve.</span>}
        </p>
      )}
      {asking && approval && (
        <Ask
          title={`Take back what ${approval.approved_by} approved?`}
          act="Take it back"
          leave="Let it stand"
          run={() => withdraw(approval.id)}
          onClose={() => setAsking(false)}
        >
          Nothing of it stands then; the list of changes keeps who took it back.
        </Ask>
      )}
    </section>
  );
}

/** What changed between looking and approving, so that nobody has to search for it. */
function Late({ then, now, note }: { then: ClearanceAnswer; now: ClearanceAnswer; note: string }) {
  const changed = changedElements(then.elements, now.elements);
  return (
    <>
      {changed.length > 0 && (
        <>
          <p>Changed while you looked:</p>
          <ul>
            {changed.map(({ id, label, words, there }) => (
              <li key={id}>
                {there ? <Why id={id}>{label}</Why> : label} {words}
              </li>
            ))}
          </ul>
        </>
      )}
      {note && <p className="quiet">Your note is kept for the next try.</p>}
    </>
  );
}

function Standing({ answer, approval }: { answer: ClearanceAnswer; approval: ApprovalView }) {
  const { reopened, never_covered, stands, gone } = approval;
  const never = answer.elements.filter((one) => never_covered.includes(one.id));
  return (
    <>
      <p>
        <Stated pattern={approval.complete ? "covered" : "unknown"}>
          {approval.approved_by} approved {elementCount(approval.covered)} of {approval.cut_name} on{" "}
          {showInstant(approval.approved_at)}
          {approval.self_approved && " (self-approved: the same person entered papers behind it)"}.
        </Stated>
      </p>
      {approval.note && <p>“{approval.note}”</p>}
      <p className="quiet">
        {wholeWords(stands.length)} {stands.length === 1 ? "stands" : "stand"} as approved.
        {gone.length > 0 && ` No longer in the cut: ${gone.join(", ")}.`}
      </p>
      {reopened.length > 0 && (
        <details open={reopened.length < 6}>
          <summary>Changed since, to be approved again ({wholeWords(reopened.length)})</summary>
          <ul>
            {reopened.map((one) => (
              <li key={one.id}>
                <Why id={one.id}>{one.label}</Why> {changeWords(one)}
              </li>
            ))}
          </ul>
        </details>
      )}
      {never.length > 0 && (
        <details>
          <summary>Never approved ({wholeWords(never.length)})</summary>
          <ul>
            {never.map((one) => (
              <li key={one.id}>
                <Why id={one.id}>{one.label}</Why>: {wordFor(elementStates, one.state)}
              </li>
            ))}
          </ul>
        </details>
      )}
    </>
  );
}

const elementCount = (count: number) => counted(count, "element");

/** What became of an element since it was approved. */
function changeWords({ state_then, state_now }: ApprovalView["reopened"][number]): string {
  const now = wordFor(elementStates, state_now);
  return state_then === state_now
    ? `changed since it was approved: its uses, papers or reasons are others. It is ${now}, as it was then.`
    : `changed since it was approved: it was ${wordFor(elementStates, state_then)} and is ${now} now.`;
}

/** An element's name, which opens its reasons. */
function Why({ id, children }: { id: string; children: string }) {
  return (
    <Link to="." search={(search) => ({ ...search, record: id })} resetScroll={false}>
      {children}
    </Link>
  );
}
