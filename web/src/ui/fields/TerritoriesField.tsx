// Where: the world, regions and countries, and what is excepted from them.
import { MultiSelect } from "@mantine/core";
import { territoriesWords } from "../../words/places";
import { regions, territories } from "../../words/territories";
import styles from "./fields.module.css";

const countries = territories.map(([value, label]) => ({ value, label }));
const choices = [
  { group: "Everywhere", items: [{ value: "WORLD", label: "The world" }] },
  { group: "Regions", items: regions.map(([value, label]) => ({ value, label })) },
  { group: "Countries and territories", items: countries },
];
const exceptions = choices.slice(1);

export function TerritoriesField({
  label,
  value,
  except,
  onChange,
  error,
  required,
  exceptable = true,
  groups = [],
}: {
  label: string;
  value: string[];
  except: string[];
  onChange: (value: string[], except: string[]) => void;
  error?: string | null | undefined;
  required?: boolean | undefined;
  /** Whether territories can be excepted again. */
  exceptable?: boolean;
  /** Names of the groups that the series keeps. */
  groups?: readonly string[];
}) {
  const kept = {
    group: "Groups of this series",
    items: groups.map((name) => ({ value: name, label: name })),
  };
  const all = groups.length ? [...choices, kept] : choices;
  const some = groups.length ? [...exceptions, kept] : exceptions;
  return (
    <div>
      <div className={styles.pair}>
        <MultiSelect
          label={label}
          data={withUnknown(all, value)}
          value={value}
          onChange={(next) => onChange(next, except)}
          searchable
          clearable
          hidePickedOptions
          limit={60}
          required={required ?? false}
          placeholder={value.length === 0 ? "Type a country or region" : ""}
          error={error}
          nothingFoundMessage="No territory of that name"
          classNames={value.length > 0 ? { inputField: styles.typing ?? "" } : {}}
          clearButtonProps={{ "aria-label": `Clear ${label}` }}
        />
        {exceptable && (
          <MultiSelect
            label="Except"
            data={withUnknown(some, except)}
            value={except}
            onChange={(next) => onChange(value, next)}
            searchable
            clearable
            hidePickedOptions
            limit={60}
            nothingFoundMessage="No territory of that name"
            classNames={except.length > 0 ? { inputField: styles.typing ?? "" } : {}}
            clearButtonProps={{ "aria-label": "Clear the exceptions" }}
          />
        )}
      </div>
      {value.length + except.length > 1 && (
        <p className={styles.under}>{territoriesWords(value, except)}</p>
      )}
    </div>
  );
}

/** A code that this page has no name for stays choosable, so that saving does not lose it. */
function withUnknown(groups: typeof choices, picked: readonly string[]) {
  const known = new Set(groups.flatMap((group) => group.items.map((item) => item.value)));
  const others = picked.filter((code) => !known.has(code));
  if (others.length === 0) return groups;
  return [
    ...groups,
    { group: "Other", items: others.map((code) => ({ value: code, label: code })) },
  ];
}
