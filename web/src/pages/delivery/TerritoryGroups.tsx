// Groups of territories that the team keeps under a name, for specifications, licences and releases.
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { territoriesWords } from "../../words/places";

export const territoryGroups: Description = {
  kind: "territory-groups",
  one: "group",
  aOne: "a group",
  many: "Territory groups",
  lead: "Territories that contracts name together. The name then stands wherever countries are chosen.",
  action: "edit_specification",
  title: (record) => text(record, "name"),
  fields: [
    {
      type: "text",
      name: "name",
      label: "Name",
      max: 60,
      required: true,
      help: "At least four letters. It stands in other records and can't be changed later.",
    },
    { type: "territories", name: "territories", label: "Territories", required: true },
    {
      type: "longText",
      name: "notes",
      label: "Notes",
      help: "From whose list it is. Lists called “Europe” differ.",
    },
  ],
  columns: [
    { name: "name", header: "Name", value: (record) => text(record, "name") },
    {
      name: "territories",
      header: "Territories",
      value: (record) => territoriesWords((record.territories as string[] | undefined) ?? []),
      phone: true,
    },
  ],
  order: "name",
  empty: {
    title: "No groups yet.",
    text: "Add one where a contract names several countries together, such as “Nordic countries”; then it can be chosen like a country.",
  },
};

export const TerritoryGroups = () => <RecordsPage description={territoryGroups} />;
