// A field's value as the panel and the conflict dialog show it.
import { showMoney } from "../../words/amounts";
import { showBytes, showDate, showDeadline, showInstant, showLength } from "../../words/dates";
import { territoriesWords } from "../../words/places";
import { wordFor } from "../../words/states";
import { type Billing, billingWords } from "../fields/BillingField";
import { documentPath } from "../fields/DocumentField";
import { type Party, partyWords } from "../fields/PartiesField";
import { type Restriction, restrictionWords } from "../fields/RestrictionsField";
import { type StepUp, stepUpWords } from "../fields/StepUpsField";
import { StateWord } from "../State";
import type { Field, Values } from "./description";
import { withdrawals } from "./FieldInput";
import { type Grant, grantWords, mediaWords } from "./grants";
import type { Lookup } from "./lookup";

/** The value as plain words; empty where nothing was entered. */
export function plain(field: Field, values: Values, lookup: Lookup): string {
  const value = values[field.name];
  if (value === null || value === undefined || value === "") return "";
  switch (field.type) {
    case "date":
      return field.deadline ? showDeadline(String(value)) : showDate(String(value));
    case "yesNo":
      return value === true ? "yes" : "no";
    case "length":
      return showLength(Number(value));
    case "bytes":
      return showBytes(Number(value));
    case "whole":
      return field.unit ? `${value} ${field.unit}` : String(value);
    case "money":
      return values[field.currency]
        ? showMoney(Number(value), String(values[field.currency]))
        : `${showMoney(Number(value), "")} (currency not entered)`;
    case "select":
      return wordFor(field.words, value);
    case "territories":
      return (value as string[]).length
        ? territoriesWords(
            value as string[],
            (field.except ? (values[field.except] as string[]) : undefined) ?? [],
          )
        : "";
    case "media":
      return (value as string[]).length
        ? mediaWords(
            value as string[],
            (field.except ? (values[field.except] as string[]) : undefined) ?? [],
          )
        : "";
    case "threeWay":
      return value === true ? field.yes : field.no;
    case "several":
      return (value as string[]).map((one) => wordFor(field.words, one)).join(", ");
    case "billing":
      return billingWords(value as Billing);
    case "rows":
      return (value as Values[])
        .map((row) => {
          const names = field.of.map((one) => plain(one, row, lookup)).filter(Boolean);
          const words = names.join("; ") || field.rowWords(row);
          const note = field.rowNote?.(row);
          return note ? `${words} (${note})` : words;
        })
        .join("\n");
    case "reference":
      return lookup.name(field.kind, value);
    case "references":
      return (value as string[]).map((id) => lookup.name(field.kind, id)).join(", ");
    case "grants":
      return (value as Grant[]).map(grantWords).join("\n");
    case "restrictions":
      return (value as Restriction[]).map((one) => restrictionWords(one, lookup)).join("\n");
    case "amount":
      return showMoney(Number(value), String(values.currency ?? ""));
    case "stepUps":
      return (value as StepUp[]).map(stepUpWords).join("\n");
    case "parties":
      return (value as Party[]).map(partyWords).join("\n");
    case "withdrawal":
      return withdrawals.find((one) => one.value === value)?.label ?? String(value);
    case "lines":
      return (value as string[]).join("\n");
    case "dates":
      return (value as string[]).map(showDate).join(", ");
    case "document":
      return "a scan is kept";
    default:
      return String(value);
  }
}

export function Shown({
  field,
  values,
  lookup,
  series,
}: {
  field: Field;
  values: Values;
  lookup: Lookup;
  series: string;
}) {
  const value = values[field.name];
  if (field.type === "select" && value !== null && field.words.some((word) => word.pattern)) {
    return <StateWord words={field.words} value={value} />;
  }
  if (field.type === "document" && typeof value === "string" && value) {
    return (
      <a href={documentPath(series, value)} download>
        Open the scan
      </a>
    );
  }
  const words = plain(field, values, lookup);
  if (!words) return <span className="quiet">not entered</span>;
  if (!words.includes("\n")) return words;
  return words.split("\n").map((line, index) => (
    // biome-ignore lint/suspicious/noArrayIndexKey: lines have no identity but their place
    <div key={index}>{line}</div>
  ));
}

export const changedWords = (record: Values): string =>
  record.updated_at ? `Last changed ${showInstant(String(record.updated_at))}` : "";
