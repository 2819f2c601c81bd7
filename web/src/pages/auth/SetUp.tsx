// The first administrator, by the one-time link that the server printed at its first start.
import { Button, Stack, TextInput } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { Link, useNavigate } from "@tanstack/react-router";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { ErrorNote } from "../../ui/Notes";
import { Frame, useLinkToken } from "./Frame";
import { NewPassword } from "./Passwords";

export function SetUp() {
  const navigate = useNavigate();
  const queries = useQueryClient();
  const token = useLinkToken();
  const [fields, setFields] = useState({ organisation: "", name: "", email: "", password: "" });
  const set = (name: keyof typeof fields) => (value: string) =>
    setFields((all) => ({ ...all, [name]: value }));
  const setUp = useMutation({
    meta: { signedOut: true },
    mutationFn: () => answered(api.POST("/api/setup", { body: { token, ...fields } })),
    onSuccess: async () => {
      queries.clear();
      await navigate({ to: "/" });
    },
  });
  if (!token) {
    return (
      <Frame title="Set up">
        <p>
          This page needs the one-time link that the server printed when it started for the first
          time. Open that link whole, with everything after the <code>#</code>.
        </p>
        <Link to="/sign-in">Sign in instead</Link>
      </Frame>
    );
  }
  return (
    <Frame title="Set up Waybill">
      <p className="quiet">
        You become the first administrator. Others are invited by e-mail afterwards.
      </p>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          setUp.mutate();
        }}
      >
        <Stack>
          <TextInput
            label="Organisation"
            description="The company or group that makes the series."
            autoComplete="organization"
            required
            maxLength={200}
            value={fields.organisation}
            onChange={(event) => set("organisation")(event.currentTarget.value)}
          />
          <TextInput
            label="Your name"
            autoComplete="name"
            required
            maxLength={200}
            value={fields.name}
            onChange={(event) => set("name")(event.currentTarget.value)}
          />
          <TextInput
            label="E-mail"
            type="email"
            autoComplete="username"
            required
            value={fields.email}
            onChange={(event) => set("email")(event.currentTarget.value)}
          />
          <NewPassword value={fields.password} onChange={set("password")} />
          <ErrorNote error={setUp.error} saving />
          <Button type="submit" loading={setUp.isPending}>
            Set up and sign in
          </Button>
        </Stack>
      </form>
    </Frame>
  );
}
