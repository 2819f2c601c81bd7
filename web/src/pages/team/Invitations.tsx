// Inviting by e-mail, and the invitations that were not taken up yet.
import { Button, MultiSelect, TextInput } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import type { Role } from "../../api/types";
import { ErrorNote } from "../../ui/Notes";
import { useToasts } from "../../ui/Toasts";
import { showInstant } from "../../words/dates";
import { roles as roleWords, wordFor } from "../../words/states";
import styles from "./team.module.css";

const roleChoices = roleWords.map(({ value, word }) => ({ value, label: word }));

/** Into a series with roles; or, without one, into the organisation alone. */
export function Invitations({ seriesId }: { seriesId: string | null }) {
  const queries = useQueryClient();
  const toasts = useToasts();
  const [email, setEmail] = useState("");
  const [roles, setRoles] = useState<Role[]>([]);
  const list = useQuery({
    queryKey: ["invitations", seriesId],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/invitations", {
          params: { query: seriesId ? { series_id: seriesId } : {} },
          signal,
        }),
      ),
  });
  const refresh = () => queries.invalidateQueries({ queryKey: ["invitations"] });
  const invite = useMutation({
    mutationFn: () =>
      answered(api.POST("/api/invitations", { body: { email, series_id: seriesId, roles } })),
    onSuccess: async () => {
      toasts.say(`An invitation is on its way to ${email}.`);
      setEmail("");
      setRoles([]);
      await refresh();
    },
  });
  const end = useMutation({
    mutationFn: (id: string) =>
      answered(api.DELETE("/api/invitations/{id}", { params: { path: { id } } })),
    onSuccess: refresh,
  });
  return (
    <section>
      <h2>Invite</h2>
      <form
        className={styles.invite}
        onSubmit={(event) => {
          event.preventDefault();
          invite.mutate();
        }}
      >
        <TextInput
          label="E-mail"
          type="email"
          required
          autoComplete="off"
          value={email}
          onChange={(event) => setEmail(event.currentTarget.value)}
        />
        {seriesId && (
          <MultiSelect
            label="Roles"
            data={roleChoices}
            value={roles}
            onChange={(next) => setRoles(next as Role[])}
            placeholder={roles.length === 0 ? "What they do here" : ""}
          />
        )}
        <Button
          type="submit"
          loading={invite.isPending}
          disabled={seriesId !== null && roles.length === 0}
          title={
            seriesId !== null && roles.length === 0 ? "Choose at least one role first." : undefined
          }
        >
          Send the invitation
        </Button>
      </form>
      <ErrorNote error={invite.error} saving />
      <ErrorNote error={list.error ?? end.error} />
      {list.data && list.data.items.length > 0 && (
        <>
          <h3>Waiting to be taken up</h3>
          <ul className={styles.people}>
            {list.data.items.map((invitation) => (
              <li key={invitation.id}>
                <div className={styles.who}>{invitation.email}</div>
                <div className="quiet">
                  {invitation.roles.map((role) => wordFor(roleWords, role)).join(", ")}
                  {invitation.roles.length > 0 && "; "}works until{" "}
                  {showInstant(invitation.expires_at)}
                </div>
                <div className={styles.acts}>
                  <Button
                    variant="default"
                    size="compact-sm"
                    aria-label={`Withdraw the invitation of ${invitation.email}`}
                    onClick={() => end.mutate(invitation.id)}
                  >
                    Withdraw
                  </Button>
                </div>
              </li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}
