// The approval of a clearance: who, when, what of it still stands, what a later change reopened.
import { Button, Textarea } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import type { ApprovalView, ClearanceAnswer } from "../../api/clearance";
import { answered, api } from "../../api/client";
import { useSeries, useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { showInstant } from "../../words/dates";
import type { Chosen } from "./CutAndSpec";

export function Approval({ answer, episode, cut, spec }: Chosen & { answer: ClearanceAnswer }) {
  const series = useSeriesId();
  // Who runs the server does not thereby answer for the programme: no exception for administrators.
  const may = useSeries()?.actions.includes("approve") ?? false;
  const queries = useQueryClient();
  const toasts = useToasts();
  const [note, setNote] = useState("");
  const [open, setOpen] = useState(false);
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
          body: { note },
        }),
      ),
    onSuccess: async (made) => {
      setOpen(false);
      setNote("");
      await refresh();
      toasts.offerUndo(`Approved ${made.covered} elements.`, () => withdraw(made.id));
    },
  });
  const { approval } = answer;
  return (
    <section aria-label="Approval">
      <h2>Approval</h2>
      {approval ? <Standing approval={approval} /> : <p>Nobody has approved this yet.</p>}
      {open ? (
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
            label="Note"
            autosize
            minRows={2}
            value={note}
            onChange={(event) => setNote(event.currentTarget.value)}
          />
          <ErrorNote error={approve.error} saving />
          <p>
            <Button type="submit" loading={approve.isPending}>
              Approve
            </Button>{" "}
            <Button variant="default" onClick={() => setOpen(false)}>
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
            title={may ? undefined : "Series producers and counsel approve."}
            onClick={() => setOpen(true)}
          >
            Approve what is cleared
          </Button>
        </p>
      )}
    </section>
  );
}

function Standing({ approval }: { approval: ApprovalView }) {
  const { reopened, never_covered, stands, gone } = approval;
  return (
    <>
      <p>
        <Stated pattern={approval.complete ? "covered" : "unknown"}>
          {approval.approved_by} approved {approval.covered} elements of {approval.cut_name} on{" "}
          {showInstant(approval.approved_at)}
          {approval.self_approved && " (self-approved: the same person entered papers behind it)"}.
        </Stated>
      </p>
      {approval.note && <p>“{approval.note}”</p>}
      <p className="quiet">
        {stands.length} still stand as approved; {reopened.length} changed since and{" "}
        {reopened.length === 1 ? "is" : "are"} open again; {never_covered.length} were never
        approved.
        {gone.length > 0 && ` No longer in the cut: ${gone.join(", ")}.`}
      </p>
      {reopened.length > 0 && (
        <ul>
          {reopened.map((one) => (
            <li key={one.id}>{one.label} changed since it was approved.</li>
          ))}
        </ul>
      )}
    </>
  );
}
