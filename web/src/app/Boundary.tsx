// What is shown when a page itself fails, or an address leads nowhere. The data is untouched in both cases.
import { Button } from "@mantine/core";
import { type ErrorComponentProps, Link, useRouter } from "@tanstack/react-router";
import { ApiError } from "../api/client";
import { ErrorNote } from "../ui/Notes";
import { Page } from "../ui/Page";
import { Away } from "./Away";
import { PageAway } from "./pageAway";

export function PageFailed({ error, reset }: ErrorComponentProps) {
  const router = useRouter();
  const again = () => {
    reset();
    router.invalidate();
  };
  if (error instanceof ApiError) {
    return (
      <Page title="This could not be read">
        <ErrorNote error={error} retry={again} />
      </Page>
    );
  }
  if (error instanceof PageAway) return <Away />;
  return (
    <Page title="This page failed">
      <p>
        The fault is in the page, not in your data: nothing was changed. Reload it; if it fails
        again, tell whoever runs this server what you did and what stands below.
      </p>
      <p className="quiet">{error instanceof Error ? error.message : String(error)}</p>
      <Button onClick={() => window.location.reload()}>Reload the page</Button>
    </Page>
  );
}

export function NoSuchPage() {
  return (
    <main style={{ padding: "0 var(--gutter)" }}>
      <Page title="There is no page at this address">
        <p>The address may be cut short or old. Nothing was changed.</p>
        <p>
          <Link to="/">Go to what needs attention today</Link>
        </p>
      </Page>
    </main>
  );
}

export function NoAccess() {
  return (
    <Page title="You have no part in this series">
      <p>
        Either the series does not exist, or you were not given a role in it. Ask its series
        producer, or an administrator of your organisation, to add you under Team.
      </p>
      <p>
        <Link to="/">Go to your own series</Link>
      </p>
    </Page>
  );
}
