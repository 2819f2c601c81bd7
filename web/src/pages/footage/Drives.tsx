// Drives: where each is, who holds it, when it is checked next, what is on it and how it was read.
import { Caution } from "../../ui/Notes";
import { type Description, text } from "../../ui/record/description";
import { RecordsPage } from "../../ui/record/RecordsPage";
import { ScanCommand } from "../../ui/ScanCommand";
import { showBytes } from "../../words/dates";
import { driveKinds, driveStates, urgency, wordFor } from "../../words/states";
import { DriveChecks } from "./DriveChecks";
import { DriveContents } from "./DriveContents";
import { DriveCustody } from "./DriveCustody";

export const drives: Description = {
  kind: "drives",
  one: "drive",
  aOne: "a drive",
  many: "Drives",
  lead: "Every device that holds footage: where it is and who holds it.",
  action: "edit_footage",
  title: (record) => text(record, "label"),
  state: { field: "status", words: driveStates },
  fields: [
    {
      type: "text",
      name: "label",
      label: "Label",
      max: 100,
      required: true,
      help: "As written on it, and as the scan names it.",
    },
    { type: "select", name: "kind", label: "Kind", words: driveKinds, required: true },
    { type: "select", name: "status", label: "State", words: driveStates, required: true },
    { type: "text", name: "place", label: "Where it is", matters: true },
    { type: "text", name: "holder", label: "Who holds it", matters: true },
    { type: "date", name: "next_check_on", label: "Next check", deadline: true, matters: true },
    { type: "text", name: "serial", label: "Serial number" },
    { type: "bytes", name: "capacity_bytes", label: "Capacity" },
    { type: "bytes", name: "free_bytes", label: "Free", help: "As last seen, in terabytes." },
    { type: "date", name: "bought_on", label: "Bought on" },
    { type: "yesNo", name: "encrypted", label: "Encrypted" },
    { type: "longText", name: "notes", label: "Notes" },
  ],
  columns: [
    { name: "label", header: "Label", value: (record) => text(record, "label") },
    {
      name: "status",
      header: "State",
      value: (record) => wordFor(driveStates, record.status),
      rank: (record) => urgency(driveStates, record.status),
      phone: true,
    },
    {
      name: "place",
      header: "Where",
      value: (record) => text(record, "place"),
      phone: true,
      sparse: true,
    },
    {
      name: "holder",
      header: "Holder",
      value: (record) => text(record, "holder"),
      phone: true,
      sparse: true,
    },
    {
      name: "next_check_on",
      header: "Next check",
      value: (record) => text(record, "next_check_on"),
      sparse: true,
    },
    {
      name: "capacity_bytes",
      header: "Capacity",
      sparse: true,
      value: (record) => (record.capacity_bytes === null ? null : Number(record.capacity_bytes)),
      cell: (record) => showBytes(record.capacity_bytes as number | null),
      align: "right",
    },
  ],
  order: "label",
  empty: {
    title: "No drives yet.",
    text: <ScanCommand />,
  },
  caution: (
    <Caution>A copy counts only once its content was read again and its hash agreed.</Caution>
  ),
};

export function Drives() {
  return (
    <RecordsPage
      description={drives}
      below={(record) => (
        <>
          <DriveContents drive={record.id} label={text(record, "label")} />
          <DriveCustody drive={record.id} />
          <DriveChecks drive={record.id} />
        </>
      )}
    />
  );
}
