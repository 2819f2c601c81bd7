// A date as people type it; shown as `9 Jan 2029` with its weekday once it is understood.
import { ActionIcon, TextInput } from "@mantine/core";
import { useId, useRef, useState } from "react";
import { readDate, showDate, showDeadline } from "../../words/dates";
import styles from "./fields.module.css";

export interface DateFieldProps {
  label: string;
  value: string | null;
  onChange: (value: string | null) => void;
  help?: string | undefined;
  error?: string | null | undefined;
  required?: boolean | undefined;
  id?: string | undefined;
}

/** Typed text that is no date is kept and reported upwards as `invalid:` text, so that it is never lost silently. */
export const INVALID_DATE = "invalid:";

export function DateField({ label, value, onChange, help, error, required, id }: DateFieldProps) {
  const own = useId();
  const picker = useRef<HTMLInputElement>(null);
  const invalid = value?.startsWith(INVALID_DATE) ? value.slice(INVALID_DATE.length) : null;
  const [typed, setTyped] = useState<string | null>(null);
  // The line below stays when the field is left: were it to go, everything would move under the mouse, and the
  // click that left the field would be lost.
  const [touched, setTouched] = useState(false);
  const shown = typed ?? invalid ?? showDate(value);

  const take = (text: string) => {
    setTyped(text);
    setTouched(true);
    if (!text.trim()) onChange(null);
    else onChange(readDate(text) ?? INVALID_DATE + text);
  };
  const read = value && !invalid ? showDeadline(value) : "";
  return (
    <div className={styles.date}>
      <TextInput
        id={id ?? own}
        label={label}
        description={help}
        placeholder="as 9 Jan 2029"
        value={shown}
        required={required ?? false}
        onChange={(event) => take(event.currentTarget.value)}
        onBlur={() => setTyped(null)}
        autoComplete="off"
        error={
          error ??
          (invalid && typed === null
            ? `“${invalid}” is not a date. Write it like 9 Jan 2029.`
            : null)
        }
        rightSection={
          <ActionIcon
            variant="subtle"
            aria-label={`Choose ${label} from a calendar`}
            onClick={() => picker.current?.showPicker?.()}
          >
            <svg viewBox="0 0 16 16" width="15" height="15" aria-hidden="true">
              <path
                d="M2 4h12v10H2zM2 7h12M5 2v3M11 2v3"
                fill="none"
                stroke="currentColor"
                strokeWidth="1.3"
              />
            </svg>
          </ActionIcon>
        }
      />
      <input
        ref={picker}
        type="date"
        className={styles.picker}
        tabIndex={-1}
        aria-hidden="true"
        value={value && !invalid ? value : ""}
        onChange={(event) => {
          setTyped(null);
          onChange(event.currentTarget.value || null);
        }}
      />
      {touched && (read || typed) && <p className={styles.under}>{read || "\u00a0"}</p>}
    </div>
  );
}
