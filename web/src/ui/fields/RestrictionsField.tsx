// Conditions that somebody made when they consented. Most are checked against the cut; words agreed are not,
// and somebody must look.
import { Button, Select, Textarea } from "@mantine/core";
import { showDate } from "../../words/dates";
import { territoriesWords } from "../../words/places";
import { DateField } from "./DateField";
import styles from "./fields.module.css";
import { TerritoriesField } from "./TerritoriesField";

export type Restriction =
  | { kind: "blur_face" | "change_voice" | "no_name" | "no_promotion" }
  | { kind: "not_in"; territories: string[] }
  | { kind: "not_before"; date: string }
  | { kind: "other"; words: string };

const kinds = [
  { value: "blur_face", label: "the face must be blurred" },
  { value: "change_voice", label: "the voice must be changed" },
  { value: "no_name", label: "the name must not be shown or said" },
  { value: "no_promotion", label: "not in promotion" },
  { value: "not_in", label: "not to be shown in some territories" },
  { value: "not_before", label: "not to be shown before a day" },
  { value: "other", label: "other words, to be checked by a person" },
];

export function restrictionWords(restriction: Restriction): string {
  if (restriction.kind === "not_in") {
    return `not to be shown in ${territoriesWords(restriction.territories)}`;
  }
  if (restriction.kind === "not_before") {
    return `not to be shown before ${showDate(restriction.date)}`;
  }
  if (restriction.kind === "other") return `${restriction.words} (to be checked by a person)`;
  return kinds.find((kind) => kind.value === restriction.kind)?.label ?? String(restriction.kind);
}

export function restrictionFault(restriction: Restriction): string | null {
  if (restriction.kind === "not_in" && restriction.territories.length === 0) {
    return "names no territory";
  }
  if (restriction.kind === "not_before" && !restriction.date) return "has no day";
  if (restriction.kind === "other" && !restriction.words.trim()) return "has no words";
  return null;
}

function blank(kind: string | null): Restriction {
  if (kind === "not_in") return { kind, territories: [] };
  if (kind === "not_before") return { kind, date: "" };
  if (kind === "other") return { kind, words: "" };
  return { kind: (kind ?? "blur_face") as "blur_face" };
}

export function RestrictionsField({
  label,
  value,
  onChange,
  help,
  error,
}: {
  label: string;
  value: Restriction[];
  onChange: (value: Restriction[]) => void;
  help?: string | undefined;
  error?: string | null | undefined;
}) {
  const change = (index: number, next: Restriction) =>
    onChange(value.map((old, place) => (place === index ? next : old)));
  return (
    <section aria-label={label}>
      <h3>{label}</h3>
      {help && <p className="quiet small">{help}</p>}
      {error && <p className={styles.fault}>{error}</p>}
      {value.map((restriction, index) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: restrictions have no identity but their place
        <fieldset key={index} className={styles.group}>
          <legend>Restriction {index + 1}</legend>
          <div className={styles.stack}>
            <Select
              label="What was agreed"
              data={kinds}
              value={restriction.kind}
              allowDeselect={false}
              onChange={(kind) => change(index, blank(kind))}
            />
            <Details restriction={restriction} onChange={(next) => change(index, next)} />
            <div>
              <Button
                variant="default"
                size="compact-sm"
                onClick={() => onChange(value.filter((_, place) => place !== index))}
              >
                Take restriction {index + 1} out
              </Button>
            </div>
          </div>
        </fieldset>
      ))}
      <Button variant="default" size="xs" onClick={() => onChange([...value, blank("blur_face")])}>
        Add a restriction
      </Button>
    </section>
  );
}

function Details({
  restriction,
  onChange,
}: {
  restriction: Restriction;
  onChange: (next: Restriction) => void;
}) {
  if (restriction.kind === "not_in") {
    return (
      <TerritoriesField
        label="Not in"
        exceptable={false}
        value={restriction.territories}
        except={[]}
        onChange={(territories) => onChange({ kind: "not_in", territories })}
      />
    );
  }
  if (restriction.kind === "not_before") {
    return (
      <DateField
        label="First allowed day"
        value={restriction.date || null}
        onChange={(date) => onChange({ kind: "not_before", date: date ?? "" })}
      />
    );
  }
  if (restriction.kind === "other") {
    return (
      <Textarea
        label="The words agreed"
        autosize
        minRows={2}
        value={restriction.words}
        onChange={(event) => onChange({ kind: "other", words: event.currentTarget.value })}
      />
    );
  }
  return null;
}
