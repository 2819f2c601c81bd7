// Which column is which field, what stands for all rows, and what the words of the file mean.
import { Button, Checkbox, Select, TextInput } from "@mantine/core";
import { useQuery, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import {
  keepMapping,
  mappingsQuery,
  type SheetAsk,
  type SheetField,
  type SheetMapping,
  type SheetPreview,
} from "../../api/sheets";
import { ErrorNote } from "../../ui/Notes";
import { useToasts } from "../../ui/Toasts";
import { wholeWords } from "../../words/amounts";
import { asked, missing, setColumn, setSame, setWord } from "./ask";
import styles from "./sheets.module.css";

export function Mapping({
  series,
  seen,
  ask,
  onAsk,
  onMapping,
}: {
  series: string;
  seen: SheetPreview;
  ask: SheetAsk;
  onAsk: (ask: SheetAsk) => void;
  onMapping: (mapping: SheetMapping) => void;
}) {
  const { mapping, fields } = seen;
  const options = [
    { value: "id", label: "Waybill id" },
    ...fields.map((field) => ({
      value: field.key,
      label: field.required ? `${field.label} (needed)` : field.label,
    })),
  ];
  const lacks = missing(mapping, fields);
  return (
    <section className={styles.part} aria-labelledby="sheet-columns">
      <h2 id="sheet-columns">What the columns are</h2>
      <Kept series={series} seen={seen} ask={ask} onAsk={onAsk} />
      {lacks.length > 0 && (
        <p className={styles.asks}>
          New records need {lacks.map((field) => `“${field.label}”`).join(", ")}. Choose a column
          for it, or say it for all rows below.
        </p>
      )}
      <ol className={styles.columns}>
        {seen.columns.map((column, at) => {
          const name = column.heading || `column ${at + 1}`;
          return (
            // biome-ignore lint/suspicious/noArrayIndexKey: a column is its place in the file
            <li key={`${at} ${column.heading}`}>
              <span>{name}</span>
              <span className={styles.samples}>{column.samples.join(" · ") || "empty"}</span>
              <Select
                aria-label={`What “${name}” is`}
                placeholder="left away"
                data={options}
                value={mapping.columns[at]?.field ?? null}
                searchable
                clearable
                clearButtonProps={{ "aria-label": `Leave “${name}” away` }}
                onChange={(field) => onMapping(setColumn(mapping, at, field, fields))}
              />
            </li>
          );
        })}
      </ol>
      <Checkbox
        mt="sm"
        label="An empty cell empties the field of a record that is changed (otherwise it is left as it is)"
        checked={mapping.blank_clears ?? false}
        onChange={(event) => onMapping({ ...mapping, blank_clears: event.currentTarget.checked })}
      />
      <ForAll mapping={mapping} fields={fields} onMapping={onMapping} />
      <Words seen={seen} onMapping={onMapping} />
    </section>
  );
}

function ForAll({
  mapping,
  fields,
  onMapping,
}: {
  mapping: SheetMapping;
  fields: readonly SheetField[];
  onMapping: (mapping: SheetMapping) => void;
}) {
  const given = mapping.same_in_all ?? [];
  const columns = new Set(mapping.columns.map((column) => column.field));
  const open = fields.filter(
    (field) => !given.some((one) => one.field === field.key) && !columns.has(field.key),
  );
  const defaults = open.filter((field) => field.default);
  return (
    <>
      <h3>For all rows</h3>
      {defaults.length > 0 && (
        <p className="quiet">
          Where nothing says otherwise, new records get:{" "}
          {defaults.map((field) => `${field.label} “${field.default}”`).join(", ")}.
        </p>
      )}
      {given.map((one) => (
        <Same
          key={one.field}
          field={fields.find((field) => field.key === one.field)}
          text={one.text}
          onText={(text) => onMapping(setSame(mapping, one.field, text))}
        />
      ))}
      <div className={styles.choices}>
        <Select
          label="Say something for all rows"
          placeholder="choose a field"
          data={open.map((field) => ({ value: field.key, label: field.label }))}
          value={null}
          searchable
          onChange={(key) => {
            const field = fields.find((one) => one.key === key);
            if (field) onMapping(setSame(mapping, field.key, field.choices[0]?.words ?? ""));
          }}
        />
      </div>
    </>
  );
}

function Same({
  field,
  text,
  onText,
}: {
  field: SheetField | undefined;
  text: string;
  onText: (text: string | null) => void;
}) {
  const [typed, setTyped] = useState(text);
  if (!field) return null;
  return (
    <div className={styles.choices}>
      {field.choices.length > 0 ? (
        <Select
          label={field.label}
          data={field.choices.map((choice) => choice.words)}
          value={text}
          allowDeselect={false}
          onChange={(words) => words !== null && onText(words)}
        />
      ) : (
        <TextInput
          label={field.label}
          value={typed}
          onChange={(event) => setTyped(event.currentTarget.value)}
          onBlur={() => typed !== text && onText(typed)}
        />
      )}
      <Button variant="default" onClick={() => onText(null)}>
        Take away
      </Button>
    </div>
  );
}

function Words({
  seen,
  onMapping,
}: {
  seen: SheetPreview;
  onMapping: (mapping: SheetMapping) => void;
}) {
  if (seen.words.length === 0) return null;
  const unknown = seen.words.filter((word) => word.value === null).length;
  return (
    <>
      <h3>What the words mean</h3>
      {unknown > 0 && (
        <p className={styles.asks}>
          {unknown === 1 ? "One word is" : `${wholeWords(unknown)} words are`} not known. Their rows
          are in error until you choose.
        </p>
      )}
      <ol className={styles.columns}>
        {seen.words.map((word) => {
          const field = seen.fields.find((one) => one.key === word.field);
          const name = `${word.label}: “${word.word}”`;
          return (
            <li key={name}>
              <span>{name}</span>
              <span className={styles.samples}>
                in {word.count} {word.count === 1 ? "row" : "rows"}
              </span>
              <Select
                aria-label={`What ${name} means`}
                placeholder="not known"
                data={[
                  ...(field?.choices ?? []).map((choice) => ({
                    value: choice.value,
                    label: choice.words,
                  })),
                  { value: "", label: "(nothing)" },
                ]}
                value={word.value}
                allowDeselect={false}
                onChange={(value) => onMapping(setWord(seen.mapping, word.field, word.word, value))}
              />
            </li>
          );
        })}
      </ol>
    </>
  );
}

/** Mappings under their names: one is taken up, or this one kept for the next list of this form. */
function Kept({
  series,
  seen,
  ask,
  onAsk,
}: {
  series: string;
  seen: SheetPreview;
  ask: SheetAsk;
  onAsk: (ask: SheetAsk) => void;
}) {
  const queries = useQueryClient();
  const toasts = useToasts();
  const kept = useQuery(mappingsQuery(series, seen.kind)).data?.items ?? [];
  const [name, setName] = useState("");
  const [error, setError] = useState<unknown>(null);
  const keep = async () => {
    setError(null);
    try {
      await keepMapping(series, seen.kind, name.trim(), seen.mapping);
      await queries.invalidateQueries({ queryKey: ["series", series, "sheet-mappings"] });
      toasts.say(`Kept as “${name.trim()}”.`);
      setName("");
    } catch (cause) {
      setError(cause);
    }
  };
  return (
    <div className={styles.choices}>
      {kept.length > 0 && (
        <Select
          label="As kept before"
          placeholder="guessed from the headings"
          data={kept.map((one) => ({ value: one.id, label: one.name }))}
          value={ask.kept_mapping ?? null}
          clearable
          clearButtonProps={{ "aria-label": "Guess from the headings" }}
          onChange={(id) => {
            const { mapping: _mapping, ...rest } = ask;
            onAsk({ ...asked, ...rest, kept_mapping: id });
          }}
        />
      )}
      <TextInput
        label="Keep this mapping for next time as"
        placeholder="a name"
        maxLength={100}
        value={name}
        onChange={(event) => setName(event.currentTarget.value)}
      />
      <Button variant="default" disabled={!name.trim()} onClick={keep}>
        Keep it
      </Button>
      <ErrorNote error={error} saving />
    </div>
  );
}
