import { describe, expect, it } from "vitest";
import type { Field } from "./description";
import { flattened, nestedBody, valueAt } from "./nested";

const fields: Field[] = [
  { type: "text", name: "licensor", label: "Licensor" },
  { type: "text", name: "terms.law", label: "Law" },
];

describe("fields inside a document of a record", () => {
  it("are read flat", () => {
    const flat = flattened(fields, { licensor: "Quay Archive", terms: { law: "Ireland" } });
    expect(flat["terms.law"]).toBe("Ireland");
    expect(flattened(fields, { licensor: "Quay Archive" })["terms.law"]).toBeUndefined();
    expect(valueAt({ a: null }, "a.b")).toBeUndefined();
  });

  it("are sent nested, and keep what the form does not show", () => {
    const record = { terms: { law: "Ireland", holdback_until: "2030-01-01" } };
    const body = nestedBody({ licensor: "Quay", "terms.law": "Scotland" }, record);
    expect(body).toEqual({
      licensor: "Quay",
      terms: { law: "Scotland", holdback_until: "2030-01-01" },
    });
    expect(record.terms.law).toBe("Ireland");
  });
});
