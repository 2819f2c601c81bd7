// Asks before something that can't be undone, in a sentence that says what will happen; with `reason`, asks why too.
// It stays open with what went wrong, so that nothing typed is lost.
import { Button, Modal, Textarea } from "@mantine/core";
import { useMutation } from "@tanstack/react-query";
import { useState } from "react";
import { ErrorNote } from "./Notes";
import styles from "./record/record.module.css";

export interface AskProps {
  /** What is asked: “Unlock EP01_v4?” */
  title: string;
  /** What will happen. */
  children: React.ReactNode;
  /** The word on the button that does it. */
  act: string;
  /** The word on the button that leaves all as it is. */
  leave?: string;
  /** A reason is needed: the label of its field and what becomes of what is typed there. */
  reason?: { label: string; help: string };
  /** Does it; gets the reason. The dialog closes once it is done. */
  run: (reason: string) => Promise<unknown>;
  onClose: () => void;
}

export function Ask({ title, children, act, leave, reason, run, onClose }: AskProps) {
  const [text, setText] = useState("");
  const [missing, setMissing] = useState(false);
  const doing = useMutation({ mutationFn: run, onSuccess: onClose });
  const submit = () => {
    const blank = reason !== undefined && text.trim() === "";
    setMissing(blank);
    if (!blank) doing.mutate(text.trim());
  };
  return (
    <Modal opened onClose={onClose} title={title}>
      <form
        noValidate
        onSubmit={(event) => {
          event.preventDefault();
          // A portal's events reach the form that the dialog stands in, too.
          event.stopPropagation();
          submit();
        }}
      >
        <p>{children}</p>
        {reason && (
          <Textarea
            label={reason.label}
            description={reason.help}
            required
            autosize
            minRows={2}
            maxLength={2000}
            value={text}
            error={missing && "Say why, in a few words. Nothing was changed yet."}
            onChange={(event) => {
              setText(event.currentTarget.value);
              setMissing(false);
            }}
            data-autofocus
          />
        )}
        <ErrorNote error={doing.error} saving />
        <div className={styles.buttons}>
          <Button type="submit" loading={doing.isPending}>
            {act}
          </Button>
          <Button variant="default" onClick={onClose} data-autofocus={reason ? undefined : true}>
            {leave ?? "Leave it as it is"}
          </Button>
        </div>
      </form>
    </Modal>
  );
}
