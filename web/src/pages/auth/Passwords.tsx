// A new password: paste and managers welcome, length is what counts (SP 800-63B).
import { PasswordInput } from "@mantine/core";

/** Mirrors the server's least length; the server's word is final. */
export const LEAST = 15;

export function NewPassword({
  value,
  onChange,
  label = "Password",
  error,
}: {
  value: string;
  onChange: (value: string) => void;
  label?: string;
  error?: string | null;
}) {
  return (
    <PasswordInput
      label={label}
      description={`At least ${LEAST} characters; a few words in a row are fine, and so is pasting from a password manager.`}
      value={value}
      onChange={(event) => onChange(event.currentTarget.value)}
      autoComplete="new-password"
      required
      minLength={LEAST}
      maxLength={200}
      error={error}
      visibilityToggleButtonProps={{ "aria-label": "Show the password" }}
    />
  );
}
