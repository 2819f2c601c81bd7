// Members of the series with their roles, and invitations that wait.
import { Button, MultiSelect } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { useMe } from "../../api/session";
import type { Member, Role } from "../../api/types";
import { useMay } from "../../app/may";
import { useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { membersKey, useMembers } from "../../ui/record/lookup";
import { useToasts } from "../../ui/Toasts";
import { roles, wordFor } from "../../words/states";
import { Invitations } from "./Invitations";
import styles from "./team.module.css";

export const roleChoices = roles.map(({ value, word }) => ({ value, label: word }));

export function Members() {
  const id = useSeriesId();
  const series = useSeries();
  const members = useMembers(id);
  const may = useMay("manage_team");
  return (
    <Page
      title="Members"
      place={series?.title}
      lead="One person may hold several roles; what they allow adds up."
    >
      <ErrorNote error={members.error} retry={() => members.refetch()} />
      {members.isPending && <Waiting what="the members" />}
      {members.data?.length === 0 && (
        <EmptyState title="Nobody has a role in this series yet.">
          Invite people by e-mail below; they choose their own password.
        </EmptyState>
      )}
      <ul className={styles.people}>
        {members.data?.map((member) => (
          <MemberRow key={member.user_id} member={member} may={may} />
        ))}
      </ul>
      {may && <Invitations seriesId={id} />}
    </Page>
  );
}

function MemberRow({ member, may }: { member: Member; may: boolean }) {
  const series = useSeriesId();
  const me = useMe();
  const toasts = useToasts();
  const queries = useQueryClient();
  const [editing, setEditing] = useState(false);
  const [chosen, setChosen] = useState(member.roles);
  const params = { path: { series, user: member.user_id } };
  const giveRoles = (next: Role[]) =>
    answered(api.PUT("/api/series/{series}/members/{user}", { params, body: { roles: next } }));
  const refresh = async () => {
    await queries.invalidateQueries({ queryKey: membersKey(series) });
    if (member.user_id === me.user.id) await queries.invalidateQueries({ queryKey: ["me"] });
  };
  const give = useMutation({
    mutationFn: giveRoles,
    onSuccess: async () => {
      setEditing(false);
      await refresh();
      toasts.say(`${member.name}'s roles were saved.`);
    },
  });
  const remove = useMutation({
    mutationFn: () => answered(api.DELETE("/api/series/{series}/members/{user}", { params })),
    onSuccess: async () => {
      await refresh();
      toasts.offerUndo(`${member.name} no longer has a part in this series.`, async () => {
        await giveRoles(member.roles);
        await refresh();
      });
    },
  });
  return (
    <li>
      <div className={styles.who}>
        {member.name}
        <br />
        <span className="quiet small">{member.email}</span>
      </div>
      <div className={styles.what}>
        {editing ? (
          <MultiSelect
            aria-label={`Roles of ${member.name}`}
            data={roleChoices}
            value={chosen}
            onChange={(next) => setChosen(next as Role[])}
          />
        ) : (
          member.roles.map((role) => wordFor(roles, role)).join(", ")
        )}
        <ErrorNote error={give.error ?? remove.error} saving />
      </div>
      {may && (
        <div className={styles.acts}>
          {editing ? (
            <>
              <Button
                size="compact-sm"
                loading={give.isPending}
                disabled={chosen.length === 0}
                onClick={() => give.mutate(chosen)}
              >
                Save
              </Button>
              <Button variant="default" size="compact-sm" onClick={() => setEditing(false)}>
                Stop editing
              </Button>
            </>
          ) : (
            <>
              <Button
                variant="default"
                size="compact-sm"
                aria-label={`Change the roles of ${member.name}`}
                onClick={() => setEditing(true)}
              >
                Change
              </Button>
              <Button
                variant="default"
                size="compact-sm"
                aria-label={`Remove ${member.name} from the series`}
                loading={remove.isPending}
                onClick={() => remove.mutate()}
              >
                Remove
              </Button>
            </>
          )}
        </div>
      )}
    </li>
  );
}
