// Conditions that somebody made when they consented. Most are checked against the cut; words agreed are not,
// and somebody must look.
import { Button, Select, Textarea, TextInput } from "@mantine/core";
import { showDate } from "../../words/dates";
import { territoriesWords } from "../../words/places";
import { mediaWords } from "../record/grants";
import type { Choice, Lookup } from "../record/lookup";
import { DateField } from "./DateField";
import styles from "./fields.module.css";
import { MediaField } from "./MediaField";
import { TerritoriesField } from "./TerritoriesField";

export type Restriction =
  | { kind: "blur_face" | "change_voice" | "no_name" | "no_promotion" }
  | { kind: "named_as"; name: string }
  | { kind: "not_in"; territories: string[] }
  | { kind: "not_before" | "not_after"; date: string }
  | { kind: "not_in_media"; media: string[] }
  | { kind: "not_beside"; person: string }
  | { kind: "approval"; words: string; approved_on: string | null }
  | { kind: "other"; words: string };

const kinds = [
  { value: "blur_face", label: "the face must be blurred" },
  { value: "change_voice", label: "the voice must be changed" },
  { value: "no_name", label: "the name must not be shown or said" },
  { value: "named_as", label: "named only so: first name, alias" },
  { value: "no_promotion", label: "not in promotion" },
  { value: "not_in", label: "not to be shown in some territories" },
  { value: "not_before", label: "not to be shown before a day" },
  { value: "not_after", label: "not to be shown after a day" },
  { value: "not_in_media", label: "not in some media" },
  { value: "not_beside", label: "not in one shot with somebody" },
  { value: "approval", label: "somebody views or approves it first" },
  { value: "other", label: "other words, to be checked by a person" },
];

export function restrictionWords(restriction: Restriction, lookup?: Pick<Lookup, "name">): string {
  if (restriction.kind === "named_as") return `named only as “${restriction.name}”`;
  if (restriction.kind === "not_in") {
    return `not to be shown in ${territoriesWords(restriction.territories)}`;
  }
  if (restriction.kind === "not_before") {
    return `not to be shown before ${showDate(restriction.date)}`;
  }
  if (restriction.kind === "not_after") {
    return `not to be shown after ${showDate(restriction.date)}`;
  }
  if (restriction.kind === "not_in_media") return `not in ${mediaWords(restriction.media)}`;
  if (restriction.kind === "not_beside") {
    return `not beside ${lookup?.name("people", restriction.person) ?? "somebody"}`;
  }
  if (restriction.kind === "approval") {
    return restriction.approved_on
      ? `${restriction.words}, approved on ${showDate(restriction.approved_on)}`
      : `${restriction.words} (approval outstanding)`;
  }
  if (restriction.kind === "other") return `${restriction.words} (to be checked by a person)`;
  return kinds.find((kind) => kind.value === restriction.kind)?.label ?? String(restriction.kind);
}

export function restrictionFault(restriction: Restriction): string | null {
  if (restriction.kind === "not_in" && restriction.territories.length === 0) {
    return "names no territory";
  }
  if (restriction.kind === "named_as" && !restriction.name.trim()) return "has no name";
  if ("date" in restriction && !restriction.date) return "has no day";
  if (restriction.kind === "not_in_media" && restriction.media.length === 0) {
    return "names no medium";
  }
  if (restriction.kind === "not_beside" && !restriction.person) return "names nobody";
  if ("words" in restriction && !restriction.words.trim()) return "has no words";
  return null;
}

function blank(kind: string | null): Restriction {
  if (kind === "named_as") return { kind, name: "" };
  if (kind === "not_in") return { kind, territories: [] };
  if (kind === "not_before" || kind === "not_after") return { kind, date: "" };
  if (kind === "not_in_media") return { kind, media: [] };
  if (kind === "not_beside") return { kind, person: "" };
  if (kind === "approval") return { kind, words: "", approved_on: null };
  if (kind === "other") return { kind, words: "" };
  return { kind: (kind ?? "blur_face") as "blur_face" };
}

export function RestrictionsField({
  label,
  value,
  onChange,
  help,
  error,
  groups = [],
  people = [],
}: {
  label: string;
  value: Restriction[];
  onChange: (value: Restriction[]) => void;
  help?: string | undefined;
  error?: string | null | undefined;
  groups?: readonly string[];
  people?: readonly Choice[];
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
            <Details
              restriction={restriction}
              groups={groups}
              people={people}
              onChange={(next) => change(index, next)}
            />
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
  groups,
  people,
  onChange,
}: {
  restriction: Restriction;
  groups: readonly string[];
  people: readonly Choice[];
  onChange: (next: Restriction) => void;
}) {
  if (restriction.kind === "named_as") {
    return (
      <TextInput
        label="Name agreed"
        description="Letter by letter, as it may stand on screen. It is compared with the captions of the cut."
        maxLength={200}
        value={restriction.name}
        onChange={(event) => onChange({ kind: "named_as", name: event.currentTarget.value })}
      />
    );
  }
  if (restriction.kind === "not_in") {
    return (
      <TerritoriesField
        label="Not in"
        exceptable={false}
        groups={groups}
        value={restriction.territories}
        except={[]}
        onChange={(territories) => onChange({ kind: "not_in", territories })}
      />
    );
  }
  if (restriction.kind === "not_before" || restriction.kind === "not_after") {
    const { kind } = restriction;
    return (
      <DateField
        label={kind === "not_before" ? "First allowed day" : "Last allowed day"}
        value={restriction.date || null}
        onChange={(date) => onChange({ kind, date: date ?? "" })}
      />
    );
  }
  if (restriction.kind === "not_in_media") {
    return (
      <MediaField
        label="Not in"
        exceptable={false}
        value={restriction.media}
        except={[]}
        onChange={(media) => onChange({ kind: "not_in_media", media })}
      />
    );
  }
  if (restriction.kind === "not_beside") {
    return (
      <Select
        label="Who"
        data={[...people]}
        value={restriction.person || null}
        searchable
        nothingFoundMessage="None of that name"
        onChange={(person) => onChange({ kind: "not_beside", person: person ?? "" })}
      />
    );
  }
  if (restriction.kind === "approval") {
    return (
      <>
        <Textarea
          label="Who views or approves what"
          autosize
          minRows={2}
          value={restriction.words}
          onChange={(event) => onChange({ ...restriction, words: event.currentTarget.value })}
        />
        <DateField
          label="Approved on"
          help="Until then it is unknown whether the uses may be shown."
          value={restriction.approved_on}
          onChange={(approved_on) => onChange({ ...restriction, approved_on })}
        />
      </>
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
