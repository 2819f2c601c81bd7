// Plain lists typed one to a line: names under which something stands in a cut, holidays.
import { Textarea } from "@mantine/core";
import { useState } from "react";
import { readDate, showDate } from "../../words/dates";

interface Common {
  label: string;
  description: string | undefined;
  error: string | undefined;
  required: boolean;
}

export function LinesField({
  value,
  onChange,
  ...common
}: Common & { value: string[]; onChange: (value: string[]) => void }) {
  const [typed, setTyped] = useState(() => value.join("\n"));
  return (
    <Textarea
      {...common}
      autosize
      minRows={2}
      maxRows={10}
      value={typed}
      onChange={(event) => {
        setTyped(event.currentTarget.value);
        onChange(linesOf(event.currentTarget.value));
      }}
    />
  );
}

export function DatesField({
  value,
  onChange,
  ...common
}: Common & { value: string[]; onChange: (value: string[]) => void }) {
  const [typed, setTyped] = useState(() => value.map(showDate).join("\n"));
  const wrong = linesOf(typed).filter((line) => readDate(line) === null);
  return (
    <Textarea
      {...common}
      autosize
      minRows={2}
      maxRows={14}
      value={typed}
      error={
        common.error ??
        (wrong.length > 0 ? `Not a date, and left out: ${wrong.join("; ")}` : undefined)
      }
      onChange={(event) => {
        setTyped(event.currentTarget.value);
        onChange(
          linesOf(event.currentTarget.value)
            .map(readDate)
            .filter((date): date is string => date !== null),
        );
      }}
    />
  );
}

const linesOf = (text: string): string[] =>
  text
    .split("\n")
    .map((line) => line.trim())
    .filter(Boolean);
