// What a grant is limited to, and the options by which it may be extended (rulebook R4, R7).
import { Button, NumberInput, Select, TagsInput, TextInput } from "@mantine/core";
import {
  type Grant,
  type Limits,
  noLimits,
  type RenewalOption,
  type RunCounting,
  runCountings,
} from "../record/grants";
import { DateField } from "./DateField";
import styles from "./fields.module.css";

interface Props {
  grant: Grant;
  onChange: (grant: Grant) => void;
}

export function LimitFields({ grant, onChange }: Props) {
  const limits = { ...noLimits, ...grant.limits };
  const set = (changes: Partial<Limits>) =>
    onChange({ ...grant, limits: { ...limits, ...changes } });
  const some = limits.runs || limits.episodes.length || limits.versions.length;
  return (
    <details open={Boolean(some || grant.options?.length)}>
      <summary>Runs, episodes, versions and options</summary>
      <div className={styles.stack}>
        <div className={styles.pair}>
          <NumberInput
            label="Runs allowed"
            description="In each territory and medium. Left empty, the paper sets no number."
            min={1}
            max={10000}
            allowDecimal={false}
            value={limits.runs?.allowed ?? ""}
            onChange={(next) =>
              set({
                runs:
                  next === ""
                    ? null
                    : { allowed: Number(next), counting: limits.runs?.counting ?? "each" },
              })
            }
          />
          {limits.runs && (
            <Select
              label="Counted"
              data={[...runCountings]}
              value={limits.runs.counting}
              allowDeselect={false}
              onChange={(counting) =>
                limits.runs &&
                set({ runs: { ...limits.runs, counting: (counting ?? "each") as RunCounting } })
              }
            />
          )}
        </div>
        <div className={styles.pair}>
          <TagsInput
            label="Episodes only"
            description="Numbers. Left empty, all episodes."
            value={limits.episodes.map(String)}
            onChange={(next) =>
              set({
                episodes: next
                  .map((text) => Number(text.trim()))
                  .filter((number) => Number.isInteger(number) && number >= 0),
              })
            }
          />
          <TagsInput
            label="Versions only"
            description="As named in the delivery's specification."
            value={limits.versions}
            onChange={(versions) => set({ versions })}
          />
        </div>
        <Options grant={grant} onChange={onChange} />
      </div>
    </details>
  );
}

function Options({ grant, onChange }: Props) {
  const options = grant.options ?? [];
  const put = (next: RenewalOption[]) => onChange({ ...grant, options: next });
  const change = (index: number, changes: Partial<RenewalOption>) =>
    put(options.map((old, place) => (place === index ? { ...old, ...changes } : old)));
  return (
    <>
      {options.map((option, index) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: options have no identity but their place
        <fieldset key={index} className={styles.group}>
          <legend>Option {index + 1} to extend</legend>
          <div className={styles.pair}>
            <NumberInput
              label="By months"
              min={1}
              max={1200}
              allowDecimal={false}
              value={option.months}
              onChange={(next) => change(index, { months: Number(next) })}
            />
            <NumberInput
              label="Notice, days before the end"
              min={0}
              max={3650}
              allowDecimal={false}
              value={option.notice_days}
              onChange={(next) => change(index, { notice_days: Number(next) })}
            />
            <TextInput
              label="Price agreed"
              value={option.price}
              onChange={(event) => change(index, { price: event.currentTarget.value })}
            />
            <DateField
              label="Taken up on"
              help="The day on which notice was given."
              value={option.taken_up_on}
              onChange={(taken_up_on) => change(index, { taken_up_on })}
            />
          </div>
          <Button
            variant="default"
            size="compact-sm"
            mt="xs"
            onClick={() => put(options.filter((_, place) => place !== index))}
          >
            Take option {index + 1} out
          </Button>
        </fieldset>
      ))}
      <div>
        <Button
          variant="default"
          size="compact-sm"
          onClick={() =>
            put([...options, { months: 12, notice_days: 90, price: "", taken_up_on: null }])
          }
        >
          Add an option
        </Button>
      </div>
    </>
  );
}
