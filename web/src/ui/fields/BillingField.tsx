// The least that is billed, for each cut or for the project (rulebook R10).
import { NumberInput, Select } from "@mantine/core";
import styles from "./fields.module.css";

export type Billing = { seconds: number; per: "cut" | "project" } | null;

export const billingWords = (billing: Billing): string =>
  billing
    ? `at least ${billing.seconds} s ${billing.per === "cut" ? "for each cut" : "for the project"}`
    : "";

export function BillingField({
  label,
  description,
  value,
  onChange,
}: {
  label: string;
  description: string | undefined;
  value: Billing;
  onChange: (value: Billing) => void;
}) {
  return (
    <div className={styles.pair}>
      <NumberInput
        label={label}
        description={description}
        min={1}
        max={86400}
        allowDecimal={false}
        suffix=" s"
        value={value?.seconds ?? ""}
        onChange={(next) =>
          onChange(next === "" ? null : { seconds: Number(next), per: value?.per ?? "project" })
        }
      />
      {value && (
        <Select
          label="Counted"
          data={[
            { value: "project", label: "for the project" },
            { value: "cut", label: "for each cut" },
          ]}
          value={value.per}
          allowDeselect={false}
          onChange={(per) => onChange({ ...value, per: per === "cut" ? "cut" : "project" })}
        />
      )}
    </div>
  );
}
