// Using a reset link: a new password, then signing in with it.
import { Button, Stack } from "@mantine/core";
import { useMutation } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { ErrorNote } from "../../ui/Notes";
import { Frame, useLinkToken } from "./Frame";
import { NewPassword } from "./Passwords";

export function Reset() {
  const token = useLinkToken();
  const [password, setPassword] = useState("");
  const use = useMutation({
    meta: { signedOut: true },
    mutationFn: () => answered(api.POST("/api/password-resets/use", { body: { token, password } })),
  });
  if (use.isSuccess) {
    return (
      <Frame title="The new password holds">
        <p>All your earlier sign-ins were ended.</p>
        <Link to="/sign-in">Sign in with it</Link>
      </Frame>
    );
  }
  return (
    <Frame title="Your new password">
      {token ? (
        <form
          onSubmit={(event) => {
            event.preventDefault();
            use.mutate();
          }}
        >
          <Stack>
            <NewPassword value={password} onChange={setPassword} />
            <ErrorNote error={use.error} saving />
            <Button type="submit" loading={use.isPending}>
              Keep this password
            </Button>
            {use.error && <Link to="/forgotten">Send me a fresh link</Link>}
          </Stack>
        </form>
      ) : (
        <p>
          The link is incomplete. Open it whole from the mail, or{" "}
          <Link to="/forgotten">ask for a fresh one</Link>.
        </p>
      )}
    </Frame>
  );
}
