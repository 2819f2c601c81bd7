// Asking for a reset link. The answer is the same whether the address is known or not.
import { Button, Stack, TextInput } from "@mantine/core";
import { useMutation } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { ErrorNote } from "../../ui/Notes";
import { Frame } from "./Frame";

export function Forgotten() {
  const [email, setEmail] = useState("");
  const ask = useMutation({
    meta: { signedOut: true },
    mutationFn: () => answered(api.POST("/api/password-resets", { body: { email } })),
  });
  if (ask.isSuccess) {
    return (
      <Frame title="Look in your mail">
        <p>
          If {email} belongs to somebody here, a mail with a link to choose a new password is on its
          way. The link works once and for a short time.
        </p>
        <Link to="/sign-in">Back to sign in</Link>
      </Frame>
    );
  }
  return (
    <Frame title="Choose a new password">
      <p className="quiet">A link is sent to your address.</p>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          ask.mutate();
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
          <ErrorNote error={ask.error} />
          <Button type="submit" loading={ask.isPending}>
            Send the link
          </Button>
          <Link to="/sign-in">Back to sign in</Link>
        </Stack>
      </form>
    </Frame>
  );
}
