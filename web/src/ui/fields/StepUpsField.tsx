// Prices that were agreed for more than a licence gives now: territories, media, years.
import { Button, Checkbox, NumberInput, TextInput } from "@mantine/core";
import { showMoney } from "../../words/amounts";
import { showDate } from "../../words/dates";
import { DateField } from "./DateField";
import styles from "./fields.module.css";

export interface StepUp {
  what: string;
  amount_minor: number;
  until: string | null;
  taken: boolean;
}

export function stepUpWords(step: StepUp): string {
  const state = step.taken ? "taken" : step.until ? `until ${showDate(step.until)}` : "open";
  return `${step.what}: ${showMoney(step.amount_minor, "")} (${state})`;
}

export function StepUpsField({
  label,
  value,
  onChange,
  help,
  error,
}: {
  label: string;
  value: StepUp[];
  onChange: (value: StepUp[]) => void;
  help?: string | undefined;
  error?: string | null | undefined;
}) {
  const change = (index: number, part: Partial<StepUp>) =>
    onChange(value.map((old, place) => (place === index ? { ...old, ...part } : old)));
  return (
    <section aria-label={label}>
      <h3>{label}</h3>
      {help && <p className="quiet small">{help}</p>}
      {error && <p className={styles.fault}>{error}</p>}
      {value.map((step, index) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: step-ups have no identity but their place
        <fieldset key={index} className={styles.group}>
          <legend>Step-up {index + 1}</legend>
          <div className={styles.stack}>
            <TextInput
              label="What it buys"
              maxLength={500}
              value={step.what}
              onChange={(event) => change(index, { what: event.currentTarget.value })}
            />
            <div className={styles.pair}>
              <NumberInput
                label="Price"
                min={0}
                decimalScale={2}
                thousandSeparator=","
                value={step.amount_minor / 100}
                onChange={(next) => change(index, { amount_minor: Math.round(Number(next) * 100) })}
              />
              <DateField
                label="Can be taken until"
                value={step.until}
                onChange={(until) => change(index, { until })}
              />
            </div>
            <Checkbox
              label="It was taken"
              checked={step.taken}
              onChange={(event) => change(index, { taken: event.currentTarget.checked })}
            />
            <div>
              <Button
                variant="default"
                size="compact-sm"
                onClick={() => onChange(value.filter((_, place) => place !== index))}
              >
                Take step-up {index + 1} out
              </Button>
            </div>
          </div>
        </fieldset>
      ))}
      <Button
        variant="default"
        size="xs"
        onClick={() =>
          onChange([...value, { what: "", amount_minor: 0, until: null, taken: false }])
        }
      >
        Add a step-up
      </Button>
    </section>
  );
}
