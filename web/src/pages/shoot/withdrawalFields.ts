// Fields of a release that say how a wish to withdraw stands, and its steps.
import type { Field } from "../../ui/record/description";
import { showDate } from "../../words/dates";
import { withdrawalStages } from "../../words/states";

export const withdrawalFields: readonly Field[] = [
  {
    type: "withdrawal",
    name: "withdrawal",
    label: "Withdrawal",
    group: "Withdrawal",
    help: "Generally nobody who was properly informed has a right to withdraw; reasonable objections are heard. While it is being decided, the uses are held. A series producer or counsel decides.",
  },
  {
    type: "rows",
    name: "details.withdrawal_steps",
    label: "Steps",
    row: "Step",
    group: "Withdrawal",
    help: "From request to holding, decision and action. The last that decides must say what stands above.",
    rowWords: (row) => String(row.step ?? ""),
    of: [
      { type: "select", name: "step", label: "What", words: withdrawalStages, required: true },
      {
        type: "text",
        name: "by",
        label: "By",
        help: "Of a request, who asked. Left empty, any other step is yours; a decision always is.",
      },
      {
        type: "date",
        name: "on",
        label: "On",
        help: "Left empty, today. For an earlier day, say below how it is known.",
      },
      { type: "longText", name: "words", label: "In what words, or in which cut" },
    ],
    rowNote: (row) =>
      row.entered_by
        ? `entered by ${row.entered_by}, ${showDate(row.entered_on as string | null)}`
        : "",
  },
];
