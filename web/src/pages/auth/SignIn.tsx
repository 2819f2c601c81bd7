// Signing in; afterwards back to where the person was going.
import { Button, PasswordInput, Stack, TextInput } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { Link, useRouter } from "@tanstack/react-router";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { safeReturn } from "../../api/session";
import { usePageSearch } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import { Frame } from "./Frame";

export function SignIn() {
  const search = usePageSearch();
  const router = useRouter();
  const queries = useQueryClient();
  const [email, setEmail] = useState("");
  const [password, setPassword] = useState("");
  const signIn = useMutation({
    meta: { signedOut: true },
    mutationFn: () => answered(api.POST("/api/sign-in", { body: { email, password } })),
    onSuccess: async () => {
      queries.clear();
      router.history.push(safeReturn(search.return));
    },
  });
  return (
    <Frame title="Sign in">
      {search.return && !signIn.error && (
        <p className="quiet">Sign in to go on to where you were.</p>
      )}
      <form
        onSubmit={(event) => {
          event.preventDefault();
          signIn.mutate();
        }}
      >
        <Stack>
          <TextInput
            label="E-mail"
            type="email"
            autoComplete="username"
            required
            value={email}
            onChange={(event) => setEmail(event.currentTarget.value)}
          />
          <PasswordInput
            label="Password"
            autoComplete="current-password"
            required
            value={password}
            onChange={(event) => setPassword(event.currentTarget.value)}
            visibilityToggleButtonProps={{ "aria-label": "Show the password" }}
          />
          <ErrorNote error={signIn.error} />
          <Button type="submit" loading={signIn.isPending}>
            Sign in
          </Button>
          <Link to="/forgotten">I don't know my password</Link>
        </Stack>
      </form>
    </Frame>
  );
}
