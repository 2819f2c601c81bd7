// One input of a record's form, chosen by the type of the field.
import { Checkbox, MultiSelect, NumberInput, Select, Textarea, TextInput } from "@mantine/core";
import { useState } from "react";
import { readLength, showLength } from "../../words/dates";
import { type Billing, BillingField } from "../fields/BillingField";
import { DateField } from "../fields/DateField";
import { DocumentField } from "../fields/DocumentField";
import fieldStyles from "../fields/fields.module.css";
import { GrantsField } from "../fields/GrantsField";
import { DatesField, LinesField } from "../fields/ListFields";
import { MediaField } from "../fields/MediaField";
import { PartiesField, type Party } from "../fields/PartiesField";
import { type Restriction, RestrictionsField } from "../fields/RestrictionsField";
import { type StepUp, StepUpsField } from "../fields/StepUpsField";
import { TerritoriesField } from "../fields/TerritoriesField";
import type { Field, Values } from "./description";
import type { Grant } from "./grants";
import type { Lookup } from "./lookup";
import { RowsField } from "./RowsField";

export interface FieldInputProps {
  field: Field;
  values: Values;
  set: (changes: Values) => void;
  error: string | undefined;
  lookup: Lookup;
  series: string;
}

export function FieldInput({ field, values, set, error, lookup, series }: FieldInputProps) {
  const value = values[field.name];
  const put = (next: unknown) => set({ [field.name]: next });
  const common = {
    label: field.label,
    description: field.help,
    error,
    required: field.required ?? false,
  };
  switch (field.type) {
    case "text":
      return (
        <TextInput
          {...common}
          value={String(value ?? "")}
          maxLength={field.max ?? 200}
          autoComplete={field.autoComplete ?? "off"}
          onChange={(event) => put(event.currentTarget.value)}
        />
      );
    case "longText":
      return (
        <Textarea
          {...common}
          value={String(value ?? "")}
          autosize
          minRows={2}
          maxRows={12}
          onChange={(event) => put(event.currentTarget.value)}
        />
      );
    case "date":
      return (
        <DateField
          label={field.label}
          help={field.help}
          error={error}
          required={field.required}
          value={(value as string | null) ?? null}
          onChange={put}
        />
      );
    case "yesNo":
      return (
        <Checkbox
          label={field.label}
          description={field.help}
          error={error}
          checked={value === true}
          onChange={(event) => put(event.currentTarget.checked)}
        />
      );
    case "select":
      return (
        <Select
          {...common}
          data={field.words.map((word) => ({ value: word.value, label: word.word }))}
          value={(value as string | null) ?? null}
          allowDeselect={false}
          clearable={field.clearable ?? false}
          clearButtonProps={{ "aria-label": `Clear ${field.label}` }}
          onChange={put}
        />
      );
    case "territories":
      return (
        <TerritoriesField
          label={field.label}
          error={error}
          required={field.required}
          exceptable={field.except !== undefined}
          groups={lookup.choices("territory-groups").map((one) => one.label)}
          value={(value as string[]) ?? []}
          except={(field.except ? (values[field.except] as string[]) : undefined) ?? []}
          onChange={(next, except) =>
            set({ [field.name]: next, ...(field.except && { [field.except]: except }) })
          }
        />
      );
    case "media":
      return (
        <MediaField
          label={field.label}
          error={error}
          value={(value as string[]) ?? []}
          exceptable={field.except !== undefined}
          except={(field.except ? (values[field.except] as string[]) : undefined) ?? []}
          onChange={(next, except) =>
            set({ [field.name]: next, ...(field.except && { [field.except]: except }) })
          }
        />
      );
    case "reference":
      return (
        <Select
          {...common}
          data={lookup.choices(field.kind)}
          value={(value as string | null) ?? null}
          searchable
          clearable={!field.required}
          clearButtonProps={{ "aria-label": `Clear ${field.label}` }}
          nothingFoundMessage="None of that name"
          limit={100}
          onChange={put}
        />
      );
    case "references":
      return (
        <MultiSelect
          {...common}
          data={lookup.choices(field.kind)}
          value={(value as string[]) ?? []}
          searchable
          hidePickedOptions
          nothingFoundMessage="None of that name"
          limit={100}
          onChange={put}
        />
      );
    case "document":
      return (
        <DocumentField
          series={series}
          label={field.label}
          help={field.help}
          error={error}
          value={(value as string | null) ?? null}
          onChange={put}
        />
      );
    case "grants":
      return (
        <GrantsField
          label={field.label}
          help={field.help}
          error={error}
          groups={lookup.choices("territory-groups").map((one) => one.label)}
          value={(value as Grant[]) ?? []}
          onChange={put}
        />
      );
    case "restrictions":
      return (
        <RestrictionsField
          label={field.label}
          help={field.help}
          error={error}
          groups={lookup.choices("territory-groups").map((one) => one.label)}
          people={lookup.choices("people")}
          value={(value as Restriction[]) ?? []}
          onChange={put}
        />
      );
    case "amount":
      return (
        <NumberInput
          {...common}
          value={value === null || value === undefined ? "" : Number(value) / 100}
          min={0}
          decimalScale={2}
          thousandSeparator=","
          onChange={(next) => put(next === "" ? null : Math.round(Number(next) * 100))}
        />
      );
    case "stepUps":
      return (
        <StepUpsField
          label={field.label}
          help={field.help}
          error={error}
          value={(value as StepUp[]) ?? []}
          onChange={put}
        />
      );
    case "parties":
      return (
        <PartiesField
          label={field.label}
          help={field.help}
          error={error}
          value={(value as Party[]) ?? []}
          onChange={put}
        />
      );
    case "withdrawal":
      return (
        <Select
          {...common}
          data={withdrawals}
          placeholder="nobody asked to withdraw"
          value={(value as string | null) ?? null}
          clearable
          clearButtonProps={{ "aria-label": `Clear ${field.label}` }}
          onChange={put}
        />
      );
    case "threeWay":
      return (
        <Select
          {...common}
          data={[
            { value: "yes", label: field.yes },
            { value: "no", label: field.no },
          ]}
          placeholder="not stated"
          value={value === true ? "yes" : value === false ? "no" : null}
          clearable
          clearButtonProps={{ "aria-label": `Clear ${field.label}` }}
          onChange={(next) => put(next === null ? null : next === "yes")}
        />
      );
    case "several":
      return (
        <MultiSelect
          {...common}
          data={field.words.map((word) => ({ value: word.value, label: word.word }))}
          value={(value as string[]) ?? []}
          hidePickedOptions
          onChange={put}
        />
      );
    case "billing":
      return <BillingField {...common} value={value as Billing} onChange={put} />;
    case "rows":
      return (
        <RowsField
          field={field}
          value={(value as Values[]) ?? []}
          onChange={put}
          error={error}
          lookup={lookup}
          series={series}
        />
      );
    case "lines":
      return <LinesField {...common} value={(value as string[]) ?? []} onChange={put} />;
    case "dates":
      return <DatesField {...common} value={(value as string[]) ?? []} onChange={put} />;
    case "length":
      return <LengthInput {...common} value={value as number | null} onChange={put} />;
    case "whole":
      return (
        <NumberInput
          {...common}
          value={(value as number | null) ?? ""}
          min={field.min ?? 0}
          {...(field.max !== undefined && { max: field.max })}
          allowDecimal={false}
          suffix={field.unit ? ` ${field.unit}` : ""}
          onChange={(next) => put(next === "" ? null : Number(next))}
        />
      );
    case "bytes":
      return (
        <NumberInput
          {...common}
          description={field.help ?? "In terabytes, as printed on the drive."}
          value={value === null || value === undefined ? "" : Number(value) / 1e12}
          min={0}
          decimalScale={3}
          suffix=" TB"
          onChange={(next) => put(next === "" ? null : Math.round(Number(next) * 1e12))}
        />
      );
    case "money":
      return <MoneyInput {...{ field, values, set, error }} />;
  }
}

export const withdrawals = [
  { value: "requested", label: "asked for, not decided" },
  { value: "holding", label: "being decided: the uses are held" },
  { value: "accepted", label: "accepted: the release has ended" },
  { value: "declined", label: "declined, reasons on record" },
];

interface InputCommon {
  label: string;
  description: string | undefined;
  error: string | undefined;
  required: boolean;
}

function LengthInput({
  value,
  onChange,
  ...common
}: InputCommon & { value: number | null; onChange: (value: number | null) => void }) {
  const [typed, setTyped] = useState<string | null>(null);
  const shown = typed ?? (value === null || value === undefined ? "" : showLength(value));
  const fault =
    typed?.trim() && readLength(typed) === null
      ? "Write a running time like 58:00 or 1:02:30."
      : null;
  return (
    <TextInput
      {...common}
      placeholder="58:00"
      value={shown}
      error={common.error ?? fault}
      onChange={(event) => {
        setTyped(event.currentTarget.value);
        onChange(readLength(event.currentTarget.value));
      }}
      onBlur={() => {
        if (!fault) setTyped(null);
      }}
    />
  );
}

function MoneyInput({
  field,
  values,
  set,
  error,
}: Pick<FieldInputProps, "values" | "set" | "error"> & {
  field: Extract<Field, { type: "money" }>;
}) {
  const minor = values[field.name] as number | null;
  return (
    <div className={fieldStyles.pair}>
      <NumberInput
        label={field.label}
        description={field.help}
        error={error}
        value={minor === null || minor === undefined ? "" : minor / 100}
        min={0}
        decimalScale={2}
        thousandSeparator=","
        onChange={(next) =>
          set({ [field.name]: next === "" ? null : Math.round(Number(next) * 100) })
        }
      />
      <TextInput
        label="Currency"
        placeholder="GBP"
        maxLength={3}
        value={String(values[field.currency] ?? "")}
        onChange={(event) => set({ [field.currency]: event.currentTarget.value.toUpperCase() })}
      />
    </div>
  );
}
