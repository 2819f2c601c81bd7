// Today over all my series: what needs attention, soonest first.
import { Button } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { Link, useNavigate } from "@tanstack/react-router";
import { useMe } from "../../api/session";
import { homeQuery } from "../../api/today";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { AttentionList } from "./AttentionList";
import styles from "./today.module.css";

export function Home() {
  const me = useMe();
  const navigate = useNavigate();
  const home = useQuery({ ...homeQuery, enabled: me.series.length > 0 });
  const newSeries = me.user.is_admin && (
    <Button
      variant={me.series.length === 0 ? "filled" : "default"}
      onClick={() => navigate({ to: "/new-series" })}
    >
      New series
    </Button>
  );
  if (me.series.length === 0) {
    return (
      <Page title="Today">
        <EmptyState title="You have no series yet." action={newSeries}>
          {me.user.is_admin
            ? "A series holds its episodes, people, footage, cuts and papers. Make the first one; then invite the team."
            : "Ask an administrator or a series producer to give you a role in one. It will then stand here."}
        </EmptyState>
      </Page>
    );
  }
  return (
    <Page
      title="Today"
      lead="What needs attention in all your series, soonest first."
      action={newSeries}
    >
      <ErrorNote error={home.error} retry={() => home.refetch()} />
      {home.isPending && <Waiting what="what needs attention" />}
      {home.data?.items.length === 0 && (
        <EmptyState title="Nothing needs attention.">
          Deadlines, licence ends, drive checks and releases with a problem will stand here, soonest
          first.
        </EmptyState>
      )}
      {home.data && home.data.items.length > 0 && (
        <AttentionList items={home.data.items} showSeries={me.series.length > 1} />
      )}
      <h2>My series</h2>
      <ul className={styles.series}>
        {me.series.map((series) => (
          <li key={series.id}>
            <Link to="/s/$series" params={{ series: series.id }}>
              {series.title}
            </Link>
          </li>
        ))}
      </ul>
    </Page>
  );
}
