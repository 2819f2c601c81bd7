// What can be told before the server is asked: empty required fields, dates that are none, faulty grants.
// The server checks all of it again; its word is final.
import { INVALID_DATE } from "../fields/DateField";
import { type Party, partyFault } from "../fields/PartiesField";
import { type Restriction, restrictionFault } from "../fields/RestrictionsField";
import type { Field, Values } from "./description";
import { type Grant, grantFault } from "./grants";

export type Faults = Record<string, string>;

export function check(fields: readonly Field[], values: Values): Faults {
  const faults: Faults = {};
  for (const field of fields) {
    if (field.when && !field.when(values)) continue;
    const fault = faultOf(field, values[field.name]);
    if (fault) faults[field.name] = fault;
  }
  return faults;
}

function faultOf(field: Field, value: unknown): string | null {
  if (typeof value === "string" && value.startsWith(INVALID_DATE)) {
    return `“${value.slice(INVALID_DATE.length)}” is not a date. Write it like 9 Jan 2029.`;
  }
  const empty =
    value === null ||
    value === undefined ||
    (typeof value === "string" && value.trim() === "") ||
    (Array.isArray(value) && value.length === 0);
  if (field.required && empty) return `${field.label} is needed.`;
  if (field.type === "grants") {
    const grants = value as Grant[];
    const bad = grants.findIndex((grant) => grantFault(grant) !== null || holdsInvalid(grant));
    if (bad < 0) return null;
    const grant = grants[bad] as Grant;
    return `Grant ${bad + 1} ${grantFault(grant) ?? "has a date that can't be read"}.`;
  }
  if (field.type === "restrictions") {
    const bad = (value as Restriction[]).findIndex((one) => restrictionFault(one) !== null);
    if (bad < 0) return null;
    return `Restriction ${bad + 1} ${restrictionFault((value as Restriction[])[bad] as Restriction)}.`;
  }
  if (field.type === "parties") {
    const bad = (value as Party[]).findIndex((one) => partyFault(one) !== null);
    if (bad < 0) return null;
    return `Party ${bad + 1} ${partyFault((value as Party[])[bad] as Party)}.`;
  }
  return null;
}

const holdsInvalid = (grant: Grant) => JSON.stringify(grant).includes(`"${INVALID_DATE}`);

/** Problem details' pointers (`/grants/0/term`) to the fields that they belong to. */
export function faultsFromServer(
  fields: readonly Field[],
  errors: readonly { pointer: string; detail: string }[],
): Faults {
  const faults: Faults = {};
  for (const { pointer, detail } of errors) {
    const path = `${pointer.split("/").slice(1).join(".")}.`;
    const named = (name: string | undefined) => name !== undefined && path.startsWith(`${name}.`);
    const field = fields.find(
      (one) =>
        named(one.name) ||
        ((one.type === "territories" || one.type === "media") && named(one.except)),
    );
    if (field && !faults[field.name]) faults[field.name] = detail;
  }
  return faults;
}
