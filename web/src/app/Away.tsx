// In place of a page that could not be fetched: opens by itself when the server is back.
import { Button } from "@mantine/core";
import { useEffect, useRef, useSyncExternalStore } from "react";
import { connection, reportConnection, subscribeConnection } from "../api/connection";
import { Page } from "../ui/Page";

export function Away({ reload = () => window.location.reload() }: { reload?: () => void }) {
  const state = useSyncExternalStore(subscribeConnection, connection);
  const wasAway = useRef(false);
  useEffect(() => {
    // Asked once, since the page may be missing on a server that is there; the notice above goes on asking.
    fetch("/api/health", { cache: "no-store" }).catch(() => reportConnection("unreachable"));
  }, []);
  useEffect(() => {
    if (state !== "fine") wasAway.current = true;
    else if (wasAway.current) reload();
  }, [state, reload]);
  return (
    <Page title="This page could not be fetched">
      {state === "fine" ? (
        <p>
          The server may have newer pages than this window. Nothing was changed; reload the page to
          go on.
        </p>
      ) : (
        <p>
          It was not opened here before, and the server can't be reached. Nothing was changed. It
          opens by itself when the connection is back; what was opened before can still be read: go
          back.
        </p>
      )}
      <Button variant="default" onClick={reload}>
        Reload the page
      </Button>
    </Page>
  );
}
