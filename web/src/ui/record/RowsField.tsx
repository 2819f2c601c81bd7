// A list inside a record, each entry with a few fields of its own: steps of a withdrawal, what is inside a clip.
import { Button } from "@mantine/core";
import fieldStyles from "../fields/fields.module.css";
import { emptyValue, type Field, type Values } from "./description";
import { FieldInput } from "./FieldInput";
import type { Lookup } from "./lookup";

export function RowsField({
  field,
  value,
  onChange,
  error,
  lookup,
  series,
}: {
  field: Extract<Field, { type: "rows" }>;
  value: Values[];
  onChange: (value: Values[]) => void;
  error: string | undefined;
  lookup: Lookup;
  series: string;
}) {
  const blank = () => Object.fromEntries(field.of.map((one) => [one.name, emptyValue(one)]));
  return (
    <section aria-label={field.label}>
      <h4>{field.label}</h4>
      {field.help && <p className="quiet small">{field.help}</p>}
      {error && <p className={fieldStyles.fault}>{error}</p>}
      {value.map((row, index) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: rows have no identity but their place
        <fieldset key={index} className={fieldStyles.group}>
          <legend>
            {field.row} {index + 1}
          </legend>
          <div className={fieldStyles.stack}>
            {field.rowNote?.(row) && <p className="quiet small">{field.rowNote(row)}</p>}
            {field.of
              .filter((one) => !one.when || one.when(row))
              .map((one) => (
                <FieldInput
                  key={one.name}
                  field={one}
                  values={row}
                  set={(changes) =>
                    onChange(
                      value.map((old, place) => (place === index ? { ...old, ...changes } : old)),
                    )
                  }
                  error={undefined}
                  lookup={lookup}
                  series={series}
                />
              ))}
            <div>
              <Button
                variant="default"
                size="compact-sm"
                onClick={() => onChange(value.filter((_, place) => place !== index))}
              >
                Take {field.row.toLowerCase()} {index + 1} out
              </Button>
            </div>
          </div>
        </fieldset>
      ))}
      <Button variant="default" size="xs" onClick={() => onChange([...value, blank()])}>
        Add {/^[aeiou]/i.test(field.row) ? "an" : "a"} {field.row.toLowerCase()}
      </Button>
    </section>
  );
}
