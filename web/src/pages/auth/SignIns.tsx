// Where I am signed in, each with a way to end it.
import { Button } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { showInstant } from "../../words/dates";
import styles from "./Account.module.css";

export function SignIns() {
  const queries = useQueryClient();
  const list = useQuery({
    queryKey: ["sign-ins"],
    queryFn: ({ signal }) => answered(api.GET("/api/me/sign-ins", { signal })),
  });
  const end = useMutation({
    mutationFn: (id: string) =>
      answered(api.DELETE("/api/me/sign-ins/{id}", { params: { path: { id } } })),
    onSuccess: () => queries.invalidateQueries({ queryKey: ["sign-ins"] }),
  });
  return (
    <section>
      <h2>Sign-ins</h2>
      <ErrorNote error={list.error ?? end.error} />
      {list.isPending && <Waiting what="your sign-ins" />}
      <ul className={styles.rows}>
        {list.data?.items.map((signIn) => (
          <li key={signIn.id}>
            <div>
              {browserWords(signIn.agent)}
              {signIn.id === list.data.current && <strong> (this one)</strong>}
              <br />
              <span className="quiet small">
                from {signIn.address || "an unknown address"}, last seen{" "}
                {showInstant(signIn.last_seen_at)}
              </span>
            </div>
            {signIn.id !== list.data.current && (
              <Button
                variant="default"
                size="compact-sm"
                onClick={() => end.mutate(signIn.id)}
                aria-label={`End the sign-in of ${browserWords(signIn.agent)}, last seen ${showInstant(signIn.last_seen_at)}`}
              >
                End
              </Button>
            )}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** A browser's long signature in a few words; the whole text where it is not recognised. */
export function browserWords(agent: string): string {
  const browser = /(Firefox|Edg|OPR|Chrome|Safari)\/[\d.]+/.exec(agent)?.[1];
  const system = /(Windows|Android|iPhone|iPad|Mac OS X|Linux)/.exec(agent)?.[1];
  if (!browser) return agent || "unknown browser";
  const names: Record<string, string> = { Edg: "Edge", OPR: "Opera" };
  return `${names[browser] ?? browser}${system ? ` on ${system.replace("Mac OS X", "macOS")}` : ""}`;
}
