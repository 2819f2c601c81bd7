// Fields inside a document of a record (`terms.law`): flat in forms, nested in what is read and sent.
import type { Field, Values } from "./description";
import { columnsOf } from "./description";

/** The value at a dotted name. */
export function valueAt(record: Values, name: string): unknown {
  let value: unknown = record;
  for (const part of name.split(".")) {
    if (value === null || typeof value !== "object") return undefined;
    value = (value as Values)[part];
  }
  return value;
}

/** The record with the dotted names of its fields beside its own. */
export function flattened(fields: readonly Field[], record: Values): Values {
  const flat: Values = { ...record };
  for (const field of fields) {
    for (const name of columnsOf(field)) {
      if (name.includes(".") && !(name in record)) flat[name] = valueAt(record, name);
    }
  }
  return flat;
}

/** Dotted names put back into their documents; what a form does not show of a document stays as it was. */
export function nestedBody(values: Values, record: Values | null): Values {
  const body: Values = {};
  for (const [name, value] of Object.entries(values)) {
    const [root = name, ...path] = name.split(".");
    if (path.length === 0) {
      body[name] = value;
      continue;
    }
    body[root] ??= structuredClone((record?.[root] as Values | undefined) ?? {});
    let inner = body[root] as Values;
    for (const part of path.slice(0, -1)) {
      inner[part] = { ...((inner[part] as Values | undefined) ?? {}) };
      inner = inner[part] as Values;
    }
    inner[path[path.length - 1] as string] = value;
  }
  return body;
}
