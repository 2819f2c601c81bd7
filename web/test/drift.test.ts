// Three gates against drift between the server's document, the generated types and the pages:
// the types are what the document gives; every form sends exactly the fields that the server takes; every closed
// list of words has exactly the server's values.
import { readFileSync } from "node:fs";
import { resolve } from "node:path";
import openapiTS, { astToString } from "openapi-typescript";
import { expect, test } from "vitest";
import type { Kind } from "../src/api/records";
import { budgets, costs } from "../src/pages/clearance/Costs";
import { imports } from "../src/pages/clearance/Imports";
import { licences } from "../src/pages/clearance/Licences";
import { music } from "../src/pages/clearance/Music";
import { scenes } from "../src/pages/cut/Scenes";
import { deliverables } from "../src/pages/delivery/Deliverables";
import { showings } from "../src/pages/delivery/Showings";
import { specifications } from "../src/pages/delivery/Specifications";
import { territoryGroups } from "../src/pages/delivery/TerritoryGroups";
import { cards } from "../src/pages/footage/Cards";
import { drives } from "../src/pages/footage/Drives";
import { episodes } from "../src/pages/series/Episodes";
import { seriesFields } from "../src/pages/series/seriesFields";
import { days } from "../src/pages/shoot/Days";
import { people } from "../src/pages/shoot/People";
import { places } from "../src/pages/shoot/Places";
import { releases } from "../src/pages/shoot/Releases";
import { columnsOf, type Description, type Field } from "../src/ui/record/description";
import { mailChoices, roles } from "../src/words/states";

const file = (name: string) => readFileSync(resolve(import.meta.dirname, "..", name), "utf8");

interface Schema {
  properties?: Record<string, Schema>;
  enum?: string[];
  $ref?: string;
  oneOf?: Schema[];
  allOf?: Schema[];
}

const document = JSON.parse(file("openapi.json")) as {
  components: { schemas: Record<string, Schema> };
};
const schemas = document.components.schemas;

test("schema.gen.ts is what openapi.json gives (npm run api makes it anew)", async () => {
  const fresh = astToString(await openapiTS(file("openapi.json")));
  expect(file("src/api/schema.gen.ts")).toContain(fresh.trim());
}, 30_000);

const fieldsOf: Record<Kind, [Description, string]> = {
  episodes: [episodes, "EpisodeFields"],
  scenes: [scenes, "SceneFields"],
  "shoot-days": [days, "ShootDayFields"],
  places: [places, "PlaceFields"],
  people: [people, "PersonFields"],
  releases: [releases, "ReleaseFields"],
  drives: [drives, "DriveFields"],
  cards: [cards, "CardFields"],
  assets: [imports, "AssetFields"],
  music: [music, "MusicFields"],
  licences: [licences, "LicenceFields"],
  costs: [costs, "CostFields"],
  budgets: [budgets, "BudgetFields"],
  specifications: [specifications, "SpecificationFields"],
  deliverables: [deliverables, "DeliverableFields"],
  "territory-groups": [territoryGroups, "TerritoryGroupFields"],
  showings: [showings, "ShowingFields"],
};

/** The values of an enum, through references and "or null". */
function valuesOf(schema: Schema | undefined): string[] | null {
  if (!schema) return null;
  if (schema.enum) return schema.enum.filter((value) => value !== null);
  if (schema.$ref) return valuesOf(schemas[schema.$ref.split("/").pop() ?? ""]);
  for (const part of [...(schema.oneOf ?? []), ...(schema.allOf ?? [])]) {
    const values = valuesOf(part);
    if (values) return values;
  }
  return null;
}

/** The properties of a schema, through references. */
function propertiesOf(schema: Schema | undefined): Record<string, Schema> {
  if (schema?.properties) return schema.properties;
  if (schema?.$ref) return propertiesOf(schemas[schema.$ref.split("/").pop() ?? ""]);
  for (const part of [...(schema?.oneOf ?? []), ...(schema?.allOf ?? [])]) {
    const found = propertiesOf(part);
    if (Object.keys(found).length > 0) return found;
  }
  return {};
}

/** Every property once; a document inside a record is sent whole as well, and what is inside that. */
function sameNames(columns: readonly string[], properties: Record<string, Schema>, of: string) {
  const roots = new Set(columns.map((column) => column.split(".")[0] ?? column));
  expect([...roots].toSorted(), of).toEqual(Object.keys(properties).toSorted());
  for (const root of roots) {
    const inside = columns
      .filter((column) => column.startsWith(`${root}.`))
      .map((column) => column.slice(root.length + 1));
    if (inside.length > 0) sameNames(inside, propertiesOf(properties[root]), `${of}.${root}`);
  }
}

function compare(fields: readonly Field[], name: string): void {
  const properties = schemas[name]?.properties ?? {};
  sameNames(fields.flatMap(columnsOf), properties, name);
  for (const field of fields) {
    const [root = "", ...path] = field.name.split(".");
    const schema = path.reduce<Schema | undefined>(
      (outer, inner) => propertiesOf(outer)[inner],
      properties[root],
    );
    const values = field.type === "select" ? valuesOf(schema) : null;
    if (field.type === "select" && values) {
      expect(field.words.map((word) => word.value).toSorted(), field.name).toEqual(
        values.toSorted(),
      );
    }
  }
}

test.each(Object.entries(fieldsOf))("%s: the form sends what the server takes", (kind, entry) => {
  const [description, schema] = entry;
  expect(description.kind).toBe(kind);
  compare(description.fields, schema);
});

test("series settings, roles and mail choices", () => {
  compare(seriesFields, "SeriesFields");
  expect(roles.map((role) => role.value).toSorted()).toEqual(schemas.Role?.enum?.toSorted());
  expect(mailChoices.map((choice) => choice.value).toSorted()).toEqual(
    schemas.MailChoice?.enum?.toSorted(),
  );
});
