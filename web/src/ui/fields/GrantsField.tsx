// What a paper grants: territories × media × term, one or several grants that add up.
import { Button, NumberInput, Select } from "@mantine/core";
import {
  type Grant,
  grantFault,
  isTrigger,
  newGrant,
  type Term,
  termKind,
  termWords,
  triggers,
} from "../record/grants";
import { DateField, INVALID_DATE } from "./DateField";
import styles from "./fields.module.css";
import { LimitFields } from "./LimitFields";
import { MediaField } from "./MediaField";
import { TerritoriesField } from "./TerritoriesField";

export function GrantsField({
  label,
  value,
  onChange,
  help,
  error,
  groups = [],
}: {
  label: string;
  value: Grant[];
  onChange: (value: Grant[]) => void;
  help?: string | undefined;
  error?: string | null | undefined;
  /** Names of the groups of territories that the series keeps. */
  groups?: readonly string[];
}) {
  const change = (index: number, grant: Grant) =>
    onChange(value.map((old, place) => (place === index ? grant : old)));
  return (
    <section aria-label={label}>
      <h3>{label}</h3>
      {help && <p className="quiet small">{help}</p>}
      {error && <p className={styles.fault}>{error}</p>}
      {value.length === 0 && (
        <p className="quiet">
          Nothing is granted yet; every use is a gap until a grant is entered.
        </p>
      )}
      {value.map((grant, index) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: grants have no identity but their place
        <fieldset key={index} className={styles.group}>
          <legend>Grant {index + 1}</legend>
          <OneGrant grant={grant} groups={groups} onChange={(next) => change(index, next)} />
          <Button
            variant="default"
            size="compact-sm"
            mt="xs"
            onClick={() => onChange(value.filter((_, place) => place !== index))}
          >
            Take grant {index + 1} out
          </Button>
        </fieldset>
      ))}
      <Button variant="default" size="xs" onClick={() => onChange([...value, newGrant()])}>
        Add a grant
      </Button>
    </section>
  );
}

export function OneGrant({
  grant,
  groups,
  onChange,
}: {
  grant: Grant;
  groups: readonly string[];
  onChange: (grant: Grant) => void;
}) {
  const fault = grantFault(grant);
  return (
    <div className={styles.stack}>
      <TerritoriesField
        label="Where"
        groups={groups}
        value={grant.territories}
        except={grant.territories_except ?? []}
        onChange={(territories, territories_except) =>
          onChange({ ...grant, territories, territories_except })
        }
      />
      <MediaField
        label="In which media"
        value={grant.media}
        except={grant.media_except ?? []}
        onChange={(media, media_except) => onChange({ ...grant, media, media_except })}
      />
      <TermFields grant={grant} onChange={onChange} />
      <LimitFields grant={grant} onChange={onChange} />
      <p className={styles.sentence}>
        {termWords({ ...grant, starts: grant.starts.replace(INVALID_DATE, "") })}
      </p>
      {fault && <p className={styles.fault}>This grant {fault}.</p>}
    </div>
  );
}

const ends = [
  { value: "unknown", label: "not known yet" },
  { value: "to", label: "a last day" },
  { value: "months", label: "a number of months" },
  { value: "perpetuity", label: "in perpetuity, as the paper says" },
];

const countings = [
  { value: "unstated", label: "not stated: take the earlier end" },
  { value: "including", label: "from and including the first day" },
  { value: "after", label: "after the event, its day not counted" },
];

function TermFields({ grant, onChange }: { grant: Grant; onChange: (grant: Grant) => void }) {
  const trigger = isTrigger(grant.starts);
  const kind = termKind(grant.term);
  const setKind = (next: string | null) => {
    const terms: Record<string, Term> = {
      unknown: null,
      to: { to: "" },
      months: { months: 12 },
      perpetuity: "perpetuity",
    };
    onChange({ ...grant, term: terms[next ?? "unknown"] ?? null });
  };
  return (
    <>
      <div className={styles.pair}>
        <Select
          label="Starts with"
          data={[
            ...triggers.map(({ value, word }) => ({ value, label: word })),
            { value: "date", label: "a date" },
          ]}
          value={trigger ? grant.starts : "date"}
          allowDeselect={false}
          onChange={(next) => onChange({ ...grant, starts: next === "date" ? "" : (next ?? "") })}
        />
        {!trigger && (
          <DateField
            label="First day"
            value={grant.starts || null}
            onChange={(date) => onChange({ ...grant, starts: date ?? "" })}
          />
        )}
        <Select
          label="Ends with"
          data={ends}
          value={kind}
          allowDeselect={false}
          onChange={setKind}
        />
        {kind === "to" && (
          <DateField
            label="Last day, included"
            value={(grant.term as { to: string }).to || null}
            onChange={(date) => onChange({ ...grant, term: { to: date ?? "" } })}
          />
        )}
        {kind === "months" && (
          <NumberInput
            label="Months"
            min={1}
            max={1200}
            allowDecimal={false}
            value={(grant.term as { months: number }).months}
            onChange={(months) => onChange({ ...grant, term: { months: Number(months) } })}
          />
        )}
      </div>
      <div className={styles.pair}>
        {kind === "months" && (
          <Select
            label="Counted"
            data={countings}
            value={grant.counting ?? "unstated"}
            allowDeselect={false}
            onChange={(next) =>
              onChange({
                ...grant,
                counting: next === "including" || next === "after" ? next : null,
              })
            }
          />
        )}
        {(kind === "months" || (trigger && kind === "perpetuity")) && (
          <DateField
            label="Never beyond"
            help="A long-stop date, if the paper has one."
            value={grant.long_stop ?? null}
            onChange={(date) => onChange({ ...grant, long_stop: date })}
          />
        )}
      </div>
    </>
  );
}
