// Accepting an invitation: a name and a password, then in.
import { Button, Stack, TextInput } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { Link, useNavigate } from "@tanstack/react-router";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { ErrorNote } from "../../ui/Notes";
import { Frame, useLinkToken } from "./Frame";
import { NewPassword } from "./Passwords";

export function Invitation() {
  const navigate = useNavigate();
  const queries = useQueryClient();
  const token = useLinkToken();
  const [name, setName] = useState("");
  const [password, setPassword] = useState("");
  const accept = useMutation({
    meta: { signedOut: true },
    mutationFn: () =>
      answered(api.POST("/api/invitations/accept", { body: { token, name, password } })),
    onSuccess: async () => {
      queries.clear();
      await navigate({ to: "/" });
    },
  });
  return (
    <Frame title="Join the team">
      {token ? (
        <form
          onSubmit={(event) => {
            event.preventDefault();
            accept.mutate();
          }}
        >
          <Stack>
            <TextInput
              label="Your name"
              description="As your colleagues should read it."
              autoComplete="name"
              required
              maxLength={200}
              value={name}
              onChange={(event) => setName(event.currentTarget.value)}
            />
            <NewPassword value={password} onChange={setPassword} />
            <ErrorNote error={accept.error} saving />
            <Button type="submit" loading={accept.isPending}>
              Join
            </Button>
            <Link to="/sign-in">I have a password here already</Link>
          </Stack>
        </form>
      ) : (
        <p>The link is incomplete. Open it whole from the mail, or ask to be invited again.</p>
      )}
    </Frame>
  );
}
