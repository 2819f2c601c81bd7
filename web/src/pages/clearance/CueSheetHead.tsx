// The head of a cue sheet, as societies ask for it, and how its cues are counted.
import { Button, NumberInput, Select, TextInput } from "@mantine/core";
import { useState } from "react";
import { type CueSheetFields, useCueSheetChanges, type WorkingSheet } from "../../api/cueSheets";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import fieldStyles from "../../ui/fields/fields.module.css";
import { ErrorNote } from "../../ui/Notes";
import { useToasts } from "../../ui/Toasts";
import { showDate, showLength } from "../../words/dates";
import { cueOverlaps, cueRoundings, cueTotals, wordFor } from "../../words/states";
import reportStyles from "../delivery/report.module.css";

const texts: readonly [keyof CueSheetFields & string, string][] = [
  ["production_number", "Production number"],
  ["also_known_as", "Also known as"],
  ["contact", "Contact for questions"],
  ["country", "Country"],
  ["year", "Year"],
  ["director", "Director"],
];

export function CueSheetHead({ working, episode }: { working: WorkingSheet; episode: string }) {
  const may = useMay("edit_assets");
  const { version, ...saved } = working.settings;
  // Only what is typed is held here: whatever else is saved meanwhile, by whomever, shows and stays.
  const [typed, setTyped] = useState<Partial<CueSheetFields>>({});
  const fields: CueSheetFields = { ...saved, ...typed };
  const { settings } = useCueSheetChanges(useSeriesId(), episode);
  const toasts = useToasts();
  const set = (part: Partial<CueSheetFields>) => setTyped((old) => ({ ...old, ...part }));
  const { head, rule } = working.sheet;
  const facts: [string, string][] = [
    ["Episode", `${head.episode_number}. ${head.episode_title}`],
    ["Production company", head.producer_entity],
    ...texts.map(([name, label]): [string, string] => [label, String(saved[name] ?? "")]),
    [
      "First transmission",
      head.first_transmission
        ? `${showDate(head.first_transmission)}${head.transmission_is_planned ? " (planned)" : ""}`
        : "",
    ],
    ["Programme duration", showLength(head.programme_seconds)],
    ["Seconds", wordFor(cueRoundings, rule.rounding)],
    ["Overlaps", wordFor(cueOverlaps, rule.overlaps)],
    ["Total", wordFor(cueTotals, rule.total)],
  ];
  const save = () =>
    settings.mutate(
      { version, body: fields },
      {
        onSuccess: (after) => {
          setTyped({});
          toasts.offerUndo("The head was saved.", () =>
            settings.mutateAsync({ version: after.version, body: saved }),
          );
        },
      },
    );
  return (
    <section>
      <h2>Head and counting</h2>
      <dl className={reportStyles.facts}>
        {facts.map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value || <span className="quiet">not entered</span>}</dd>
          </div>
        ))}
      </dl>
      {may && (
        <details className="no-print">
          <summary>Change the head, or how cues are counted</summary>
          <div className={fieldStyles.stack}>
            <ErrorNote error={settings.error} saving />
            <div className={fieldStyles.pair}>
              {texts.map(([name, label]) => (
                <TextInput
                  key={name}
                  label={label}
                  maxLength={500}
                  value={String(fields[name] ?? "")}
                  onChange={(event) => set({ [name]: event.currentTarget.value })}
                />
              ))}
            </div>
            <div className={fieldStyles.pair}>
              <Select
                label="Seconds"
                data={cueRoundings.map((one) => ({ value: one.value, label: one.word }))}
                value={fields.rounding}
                allowDeselect={false}
                onChange={(value) => set({ rounding: value as CueSheetFields["rounding"] })}
              />
              <Select
                label="Where two pieces are heard at once"
                data={cueOverlaps.map((one) => ({ value: one.value, label: one.word }))}
                value={fields.overlaps}
                allowDeselect={false}
                onChange={(value) => set({ overlaps: value as CueSheetFields["overlaps"] })}
              />
              <Select
                label="Total that is printed"
                data={cueTotals.map((one) => ({ value: one.value, label: one.word }))}
                value={fields.total}
                allowDeselect={false}
                onChange={(value) => set({ total: value as CueSheetFields["total"] })}
              />
              <NumberInput
                label="Gap that does not start a new cue"
                suffix=" frames"
                min={0}
                max={250}
                allowDecimal={false}
                value={fields.gap_frames}
                onChange={(value) => set({ gap_frames: Number(value) || 0 })}
              />
            </div>
            <div>
              <Button loading={settings.isPending} onClick={save}>
                Save the head
              </Button>
            </div>
          </div>
        </details>
      )}
    </section>
  );
}
