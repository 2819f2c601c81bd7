// A line above the page while the server does not answer; it tries again by itself and goes when it is back.
import { useQueryClient } from "@tanstack/react-query";
import { useEffect, useSyncExternalStore } from "react";
import { connection, reportConnection, subscribeConnection } from "../api/connection";
import styles from "./Layout.module.css";

const EVERY = 5_000;

export function ConnectionNotice() {
  const state = useSyncExternalStore(subscribeConnection, connection);
  const client = useQueryClient();

  useEffect(() => {
    if (state === "fine") return;
    const timer = window.setInterval(async () => {
      try {
        const answer = await fetch("/api/health", { cache: "no-store" });
        if (!answer.ok) return;
        reportConnection("fine");
        await client.invalidateQueries();
      } catch {
        // Still away; the next tick asks again.
      }
    }, EVERY);
    return () => window.clearInterval(timer);
  }, [state, client]);

  if (state === "fine") return null;
  return (
    <div role="alert" className={styles.notice}>
      {state === "unreachable"
        ? "The server can't be reached. Nothing is being saved; what you typed stays here. Trying again every few seconds."
        : "The server is up but can't work just now, perhaps because its database is away. Nothing is being saved; what you typed stays here. Trying again every few seconds."}
    </div>
  );
}
