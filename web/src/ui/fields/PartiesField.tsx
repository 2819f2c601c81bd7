// Who has which part in a piece of music. Shares are hundredths of a percent with the server and percent here.
import { Button, NumberInput, Select, TextInput } from "@mantine/core";
import styles from "./fields.module.css";

export interface Party {
  name: string;
  role: string;
  society: string;
  ipi: string;
  share: number | null;
}

export const partyRoles = [
  { value: "composer", label: "composer" },
  { value: "author", label: "author" },
  { value: "composer_author", label: "composer and author" },
  { value: "arranger", label: "arranger" },
  { value: "translator", label: "translator" },
  { value: "publisher", label: "publisher" },
  { value: "sub_publisher", label: "sub-publisher" },
  { value: "performer", label: "performer" },
  { value: "recording_owner", label: "owner of the recording" },
];

const WRITERS = ["composer", "author", "composer_author", "arranger", "translator"];
const PUBLISHERS = ["publisher", "sub_publisher"];

export const percentWords = (hundredths: number) => `${Number((hundredths / 100).toFixed(2))} %`;

export function partyWords(party: Party): string {
  const role = partyRoles.find((one) => one.value === party.role)?.label ?? party.role;
  const share = party.share === null ? "share not entered" : percentWords(party.share);
  const parts = [role, party.role === "performer" ? "" : share, party.society, party.ipi];
  return `${party.name}: ${parts.filter(Boolean).join(", ")}`;
}

export function partyFault(party: Party): string | null {
  if (!party.name.trim()) return "has no name";
  if (party.share !== null && (party.share < 0 || party.share > 10_000)) {
    return "has a share that is no part of 100 %";
  }
  return null;
}

/** What the entered shares of each side come to; nothing is decided here, the cue sheet says what is open. */
export function sums(parties: readonly Party[]): string {
  const of = (roles: readonly string[]) => {
    const side = parties.filter((party) => roles.includes(party.role));
    if (side.length === 0) return null;
    return percentWords(side.reduce((sum, party) => sum + (party.share ?? 0), 0));
  };
  const [writers, publishers, owners] = [of(WRITERS), of(PUBLISHERS), of(["recording_owner"])];
  return [
    writers && `writers ${writers}`,
    publishers && `publishers ${publishers}`,
    owners && `recording ${owners}`,
  ]
    .filter(Boolean)
    .join(", ");
}

export function PartiesField({
  label,
  value,
  onChange,
  help,
  error,
}: {
  label: string;
  value: Party[];
  onChange: (value: Party[]) => void;
  help?: string | undefined;
  error?: string | null | undefined;
}) {
  const change = (index: number, part: Partial<Party>) =>
    onChange(value.map((old, place) => (place === index ? { ...old, ...part } : old)));
  const entered = sums(value);
  return (
    <section aria-label={label}>
      <h3>{label}</h3>
      {help && <p className="quiet small">{help}</p>}
      {error && <p className={styles.fault}>{error}</p>}
      {value.map((party, index) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: parties have no identity but their place
        <fieldset key={index} className={styles.group}>
          <legend>Party {index + 1}</legend>
          <div className={styles.stack}>
            <div className={styles.pair}>
              <TextInput
                label="Name"
                maxLength={200}
                value={party.name}
                onChange={(event) => change(index, { name: event.currentTarget.value })}
              />
              <Select
                label="Role"
                data={partyRoles}
                value={party.role}
                allowDeselect={false}
                onChange={(role) => change(index, { role: role ?? "composer" })}
              />
            </div>
            <div className={styles.pair}>
              {party.role !== "performer" && (
                <NumberInput
                  label="Share"
                  suffix=" %"
                  min={0}
                  max={100}
                  decimalScale={2}
                  value={party.share === null ? "" : party.share / 100}
                  onChange={(share) =>
                    change(index, {
                      share: share === "" ? null : Math.round(Number(share) * 100),
                    })
                  }
                />
              )}
              <TextInput
                label="Society"
                maxLength={100}
                value={party.society}
                onChange={(event) => change(index, { society: event.currentTarget.value })}
              />
              <TextInput
                label="IPI"
                description="11 digits"
                maxLength={20}
                value={party.ipi}
                onChange={(event) => change(index, { ipi: event.currentTarget.value })}
              />
            </div>
            <div>
              <Button
                variant="default"
                size="compact-sm"
                onClick={() => onChange(value.filter((_, place) => place !== index))}
              >
                Take party {index + 1} out
              </Button>
            </div>
          </div>
        </fieldset>
      ))}
      {entered && <p className={styles.sentence}>Entered so far: {entered}.</p>}
      <Button
        variant="default"
        size="xs"
        onClick={() =>
          onChange([...value, { name: "", role: "composer", society: "", ipi: "", share: null }])
        }
      >
        Add a party
      </Button>
    </section>
  );
}
