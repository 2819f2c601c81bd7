// Everybody who can sign in, for administrators: who administers, who is shut out.
import { Button } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { answered, api, onVersion } from "../../api/client";
import { useMe } from "../../api/session";
import type { User } from "../../api/types";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { Stated } from "../../ui/State";
import { Invitations } from "./Invitations";
import styles from "./team.module.css";

export function Organisation() {
  const me = useMe();
  const list = useQuery({
    queryKey: ["users"],
    queryFn: ({ signal }) => answered(api.GET("/api/users", { signal })),
  });
  return (
    <Page title="Everybody who can sign in" lead={me.organisation}>
      <ErrorNote error={list.error} retry={() => list.refetch()} />
      {list.isPending && <Waiting what="the people" />}
      <ul className={styles.people}>
        {list.data?.items.map((user) => (
          <UserRow key={user.id} user={user} />
        ))}
      </ul>
      {me.user.is_admin && <Invitations seriesId={null} />}
    </Page>
  );
}

function UserRow({ user }: { user: User }) {
  const me = useMe();
  const queries = useQueryClient();
  const change = useMutation({
    mutationFn: (next: { is_admin: boolean; disabled: boolean }) =>
      answered(
        api.PUT("/api/users/{id}", {
          params: { path: { id: user.id }, header: onVersion(user.version) },
          body: next,
        }),
      ),
    onSuccess: () => queries.invalidateQueries({ queryKey: ["users"] }),
  });
  const self = user.id === me.user.id;
  const reason = self ? "Somebody else has to change this about you." : undefined;
  const { is_admin, disabled } = user;
  return (
    <li>
      <div className={styles.who}>
        {user.name}
        <br />
        <span className="quiet small">{user.email}</span>
      </div>
      <div>
        {disabled ? (
          <Stated pattern="gap">shut out, can't sign in</Stated>
        ) : is_admin ? (
          "administrator"
        ) : (
          "member"
        )}
        <ErrorNote error={change.error} saving />
      </div>
      <div className={styles.acts}>
        <Button
          variant="default"
          size="compact-sm"
          disabled={self}
          title={reason}
          loading={change.isPending}
          onClick={() => change.mutate({ is_admin: !is_admin, disabled })}
        >
          {is_admin ? "No longer administrator" : "Make administrator"}
        </Button>
        <Button
          variant="default"
          size="compact-sm"
          disabled={self}
          title={reason}
          loading={change.isPending}
          onClick={() => change.mutate({ is_admin, disabled: !disabled })}
        >
          {disabled ? "Let in again" : "Shut out"}
        </Button>
      </div>
    </li>
  );
}
