// How the file was read: which sheet, separator and row of headings; how its dates are understood. Everything that was
// found is said, and can be chosen otherwise.
import { NumberInput, Select, TextInput } from "@mantine/core";
import type { SheetAsk, SheetMapping, SheetPreview } from "../../api/sheets";
import { wholeWords } from "../../words/amounts";
import { readAgain } from "./ask";
import styles from "./sheets.module.css";

const separators = [
  { value: "comma", label: "commas" },
  { value: "semicolon", label: "semicolons" },
  { value: "tab", label: "tabs" },
  { value: "bar", label: "bars |" },
];

export function Reading({
  seen,
  ask,
  onAsk,
  onMapping,
}: {
  seen: SheetPreview;
  ask: SheetAsk;
  onAsk: (ask: SheetAsk) => void;
  onMapping: (mapping: SheetMapping) => void;
}) {
  const { mapping, days } = seen;
  return (
    <section className={styles.part} aria-labelledby="sheet-reading">
      <h2 id="sheet-reading">How it is read</h2>
      <p className="quiet">
        “{seen.name}”{seen.encoding && `, text in ${seen.encoding}`}, {wholeWords(seen.counts.rows)}{" "}
        rows below the headings.
      </p>
      {seen.warnings.map((warning) => (
        <p key={warning} className={styles.asks}>
          {warning}
        </p>
      ))}
      <div className={styles.choices}>
        {seen.sheets.length > 0 && (
          <Select
            label="Sheet"
            data={seen.sheets}
            value={seen.sheet}
            allowDeselect={false}
            onChange={(sheet) => onAsk(readAgain(ask, { ...ask, sheet, heading_row: null }))}
          />
        )}
        {seen.separator && (
          <Select
            label="Cells are parted by"
            data={separators}
            value={seen.separator}
            allowDeselect={false}
            onChange={(separator) =>
              onAsk(
                readAgain(ask, {
                  ...ask,
                  separator: separator as SheetPreview["separator"],
                  heading_row: null,
                }),
              )
            }
          />
        )}
        <NumberInput
          label="Headings are in row"
          description="0: there are none"
          min={0}
          max={1_048_576}
          allowDecimal={false}
          value={seen.heading_row}
          onChange={(row) => {
            if (typeof row === "number" && row !== seen.heading_row) {
              onAsk(readAgain(ask, { ...ask, heading_row: row }));
            }
          }}
        />
        <TextInput
          label="Several values in a cell are parted by"
          description="Left empty: line breaks, semicolons, bars"
          maxLength={1}
          value={mapping.list_sign ?? ""}
          onChange={(event) =>
            onMapping({ ...mapping, list_sign: event.currentTarget.value || null })
          }
        />
      </div>
      {(days.words.length > 0 || days.order) && (
        <>
          <ul className={styles.found} aria-label="Dates in the file">
            {days.words.map((words) => (
              <li key={words}>{words}</li>
            ))}
          </ul>
          {(days.asks_order || days.asks_serials) && (
            <p className={styles.asks}>
              Some dates can be read in two ways. Until you choose, their rows are in error.
            </p>
          )}
          <div className={styles.choices}>
            <Select
              label="03/04/2029 is"
              placeholder="not decided"
              data={[
                { value: "day_first", label: "3 April 2029 (day first)" },
                { value: "month_first", label: "4 March 2029 (month first)" },
              ]}
              value={days.order}
              clearable
              clearButtonProps={{ "aria-label": "As found in the file" }}
              onChange={(order) =>
                onMapping({ ...mapping, day_order: order as SheetMapping["day_order"] })
              }
            />
            <Select
              label="Numbers count days"
              placeholder="not decided"
              data={[
                { value: "from_1900", label: "from 1900" },
                { value: "from_1904", label: "from 1904" },
              ]}
              value={days.serials}
              clearable
              clearButtonProps={{ "aria-label": "As the file says" }}
              onChange={(serials) =>
                onMapping({ ...mapping, serials: serials as SheetMapping["serials"] })
              }
            />
          </div>
        </>
      )}
    </section>
  );
}
