// Members of the series with their roles, and invitations that wait.
import { Button, MultiSelect, Select } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { useMe } from "../../api/session";
import type { Member, Role } from "../../api/types";
import { useMay } from "../../app/may";
import { useSeries, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { membersKey, useBroadcasters, useMembers } from "../../ui/record/lookup";
import { useToasts } from "../../ui/Toasts";
import { roles, wordFor } from "../../words/states";
import { Invitations } from "./Invitations";
import styles from "./team.module.css";

export const roleChoices = roles.map(({ value, word }) => ({ value, label: word }));

export function Members() {
  const id = useSeriesId();
  const series = useSeries();
  const members = useMembers(id);
  const broadcasters = useBroadcasters(id);
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
          <MemberRow
            key={member.user_id}
            member={member}
            may={may}
            broadcasters={broadcasters.data ?? []}
          />
        ))}
      </ul>
      {may && <Invitations seriesId={id} />}
    </Page>
  );
}

/** What a delivery contact receives, in a sentence. */
export function receivesWords(broadcaster: string | null, broadcasters: readonly string[]): string {
  if (broadcaster !== null) return `receives for ${broadcaster}`;
  return broadcasters.length > 1
    ? "sees nothing that was issued: say for which broadcaster they receive"
    : "receives all that is issued, as long as the series has one broadcaster";
}

export function MemberRow({
  member,
  may,
  broadcasters,
}: {
  member: Member;
  may: boolean;
  broadcasters: readonly string[];
}) {
  const series = useSeriesId();
  const me = useMe();
  const toasts = useToasts();
  const queries = useQueryClient();
  const [editing, setEditing] = useState(false);
  const [chosen, setChosen] = useState(member.roles);
  const [receives, setReceives] = useState(member.broadcaster);
  const params = { path: { series, user: member.user_id } };
  const giveRoles = ({ roles, broadcaster }: { roles: Role[]; broadcaster: string | null }) =>
    answered(
      api.PUT("/api/series/{series}/members/{user}", { params, body: { roles, broadcaster } }),
    );
  const isContact = (roles: readonly Role[]) => roles.includes("delivery_contact");
  const names = [...new Set([...broadcasters, ...(receives ? [receives] : [])])];
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
        await giveRoles(member);
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
          <>
            <MultiSelect
              aria-label={`Roles of ${member.name}`}
              data={roleChoices}
              value={chosen}
              onChange={(next) => setChosen(next as Role[])}
            />
            {isContact(chosen) && (
              <Select
                label="Receives for"
                description="They see what was issued to this broadcaster, and nothing of another."
                placeholder="not said"
                data={names}
                value={receives}
                clearable
                clearButtonProps={{ "aria-label": `Clear the broadcaster of ${member.name}` }}
                nothingFoundMessage="No delivery specification names a broadcaster yet"
                onChange={setReceives}
              />
            )}
          </>
        ) : (
          <>
            {member.roles.map((role) => wordFor(roles, role)).join(", ")}
            {isContact(member.roles) && (
              <div className="quiet small">{receivesWords(member.broadcaster, broadcasters)}</div>
            )}
          </>
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
                onClick={() =>
                  give.mutate({ roles: chosen, broadcaster: isContact(chosen) ? receives : null })
                }
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
