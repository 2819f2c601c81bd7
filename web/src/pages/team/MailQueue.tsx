// Mail that waits, went out or failed, for administrators. Bodies are not shown: they are other people's.
import { Button } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { StateWord } from "../../ui/State";
import { showInstant } from "../../words/dates";
import type { Word } from "../../words/states";
import styles from "./team.module.css";

const mailStates: readonly Word[] = [
  { value: "due", word: "waiting to go out", pattern: "unknown" },
  { value: "sent", word: "sent", pattern: "covered" },
  { value: "failed", word: "failed", pattern: "gap" },
  { value: "useless", word: "too late, not sent", pattern: "none" },
];

export function MailQueue() {
  const queries = useQueryClient();
  const list = useQuery({
    queryKey: ["mails"],
    queryFn: ({ signal }) => answered(api.GET("/api/mails", { signal })),
    refetchInterval: 15_000,
  });
  const again = useMutation({
    mutationFn: (id: string) =>
      answered(api.POST("/api/mails/{id}/send-again", { params: { path: { id } } })),
    onSuccess: () => queries.invalidateQueries({ queryKey: ["mails"] }),
  });
  return (
    <Page title="Mail waiting and sent">
      <ErrorNote error={list.error} retry={() => list.refetch()} />
      <ErrorNote error={again.error} />
      {list.isPending && <Waiting what="the mail" />}
      {list.data?.items.length === 0 && (
        <EmptyState title="No mail yet.">
          Invitations, resets and reminders stand here once they are written.
        </EmptyState>
      )}
      <ul className={styles.people}>
        {list.data?.items.map((mail) => (
          <li key={mail.id}>
            <div className={styles.who}>
              {mail.recipient}
              <br />
              <span className="quiet small">{showInstant(mail.sent_at ?? mail.created_at)}</span>
            </div>
            <div>
              <StateWord words={mailStates} value={mail.state} /> · {mail.subject}
              {mail.last_answer && (mail.state === "failed" || mail.state === "due") && (
                <p className="small quiet">
                  {mail.state === "due" && "Tried, and will be tried again: "}
                  {mail.last_answer}
                </p>
              )}
            </div>
            <div className={styles.acts}>
              {mail.state === "failed" && (
                <Button
                  variant="default"
                  size="compact-sm"
                  aria-label={`Send “${mail.subject}” to ${mail.recipient} again`}
                  onClick={() => again.mutate(mail.id)}
                >
                  Send again
                </Button>
              )}
            </div>
          </li>
        ))}
      </ul>
    </Page>
  );
}
