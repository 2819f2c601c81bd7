// A short text that is saved when it is left. What was typed stays until it is saved, whatever is read anew meanwhile;
// then the field shows what stands there, an undone change too.
import { TextInput, type TextInputProps } from "@mantine/core";
import { useState } from "react";

export function NoteInput({
  note,
  save,
  ...rest
}: Omit<TextInputProps, "value" | "defaultValue" | "onChange" | "onBlur"> & {
  /** As it stands. */
  note: string;
  /** Saves it; the fault is shown by whoever gives this. */
  save: (typed: string) => Promise<unknown>;
}) {
  const [typed, setTyped] = useState<string | null>(null);
  const leave = async () => {
    if (typed === null) return;
    if (typed !== note) {
      try {
        await save(typed);
      } catch {
        return;
      }
    }
    // Unless more was typed while it was being saved.
    setTyped((now) => (now === typed ? null : now));
  };
  return (
    <TextInput
      {...rest}
      maxLength={5000}
      value={typed ?? note}
      onChange={(event) => setTyped(event.currentTarget.value)}
      onBlur={leave}
    />
  );
}
