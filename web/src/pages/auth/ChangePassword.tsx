// Changing one's own password.
import { Button, PasswordInput, Stack } from "@mantine/core";
import { useMutation } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { ErrorNote } from "../../ui/Notes";
import { useToasts } from "../../ui/Toasts";
import { NewPassword } from "./Passwords";

export function ChangePassword() {
  const [old, setOld] = useState("");
  const [fresh, setFresh] = useState("");
  const toasts = useToasts();
  const change = useMutation({
    meta: { signedOut: true },
    mutationFn: () => answered(api.PUT("/api/me/password", { body: { old, new: fresh } })),
    onSuccess: () => {
      setOld("");
      setFresh("");
      toasts.say("The new password holds. Your other sign-ins were ended.");
    },
  });
  return (
    <section>
      <h2>Password</h2>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          change.mutate();
        }}
      >
        <Stack gap="sm">
          <PasswordInput
            label="Password now"
            autoComplete="current-password"
            required
            value={old}
            onChange={(event) => setOld(event.currentTarget.value)}
            visibilityToggleButtonProps={{ "aria-label": "Show the password" }}
          />
          <NewPassword label="New password" value={fresh} onChange={setFresh} />
          <ErrorNote error={change.error} saving />
          <div>
            <Button type="submit" variant="default" loading={change.isPending}>
              Change the password
            </Button>
          </div>
        </Stack>
      </form>
    </section>
  );
}
