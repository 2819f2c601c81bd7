// In which media: a tree with a box for each branch and leaf. A branch includes its leaves; a leaf that is
// switched off under a chosen branch becomes an exception.
import { Checkbox, Fieldset } from "@mantine/core";
import { type Medium, mediaTree } from "../../words/media";
import { mediaWords } from "../record/grants";
import styles from "./MediaField.module.css";

interface Chosen {
  media: string[];
  except: string[];
}

/** Whether the choice includes the medium (mirrors rights/medium.rs: a name includes what begins with it and a dot). */
export function isIn({ media, except }: Chosen, medium: string): boolean {
  const inside = (names: string[]) =>
    names.some((name) => name === "all" || medium === name || medium.startsWith(`${name}.`));
  return inside(media) && !inside(except);
}

/** The choice after one box was clicked. */
export function toggled(chosen: Chosen, medium: Medium, parent: Medium | null): Chosen {
  const below = (name: string) => name === medium.value || name.startsWith(`${medium.value}.`);
  const on = isIn(chosen, medium.value) && !chosen.except.some(below);
  const media = chosen.media.filter((name) => !below(name));
  const except = chosen.except.filter((name) => !below(name));
  if (on) {
    const covered = isIn({ media, except }, medium.value);
    return { media, except: covered ? [...except, medium.value] : except };
  }
  const covered = isIn({ media, except }, medium.value);
  const next = covered ? media : [...media, medium.value];
  if (parent?.children && !covered) {
    const whole = parent.children.every((child) => next.includes(child.value));
    if (whole) {
      return {
        media: [...next.filter((n) => !n.startsWith(`${parent.value}.`)), parent.value],
        except,
      };
    }
  }
  return { media: next, except };
}

export function MediaField({
  label,
  value,
  except,
  onChange,
  error,
  exceptable = true,
}: {
  label: string;
  value: string[];
  except: string[];
  /** Whether media can be excepted again; else a branch parts into the leaves that are left. */
  exceptable?: boolean;
  onChange: (value: string[], except: string[]) => void;
  error?: string | null | undefined;
}) {
  const chosen = { media: value, except };
  const all = value.includes("all");
  const change = (next: Chosen) =>
    exceptable || next.except.length === 0
      ? onChange(next.media, next.except)
      : onChange(
          mediaTree
            .flatMap((medium) => medium.children ?? [medium])
            .map((leaf) => leaf.value)
            .filter((leaf) => isIn(next, leaf)),
          [],
        );
  return (
    <Fieldset legend={label} className={styles.set}>
      <Checkbox
        label="all media"
        checked={all && except.length === 0}
        indeterminate={all && except.length > 0}
        onChange={() =>
          change(
            all && except.length === 0 ? { media: [], except: [] } : { media: ["all"], except: [] },
          )
        }
      />
      <div className={styles.tree}>
        {mediaTree.map((medium) => (
          <div key={medium.value} className={styles.branch}>
            <Box medium={medium} parent={null} chosen={chosen} change={change} />
            {medium.children && (
              <div className={styles.leaves}>
                {medium.children.map((leaf) => (
                  <Box
                    key={leaf.value}
                    medium={leaf}
                    parent={medium}
                    chosen={chosen}
                    change={change}
                  />
                ))}
              </div>
            )}
          </div>
        ))}
      </div>
      <p className={styles.words}>{mediaWords(value, except)}</p>
      {error && <p className={styles.error}>{error}</p>}
    </Fieldset>
  );
}

function Box({
  medium,
  parent,
  chosen,
  change,
}: {
  medium: Medium;
  parent: Medium | null;
  chosen: Chosen;
  change: (next: Chosen) => void;
}) {
  const leaves = medium.children ?? [];
  const inside = leaves.filter((leaf) => isIn(chosen, leaf.value)).length;
  const whole = isIn(chosen, medium.value) && inside === leaves.length;
  return (
    <Checkbox
      label={medium.word}
      checked={whole}
      indeterminate={!whole && inside > 0}
      onChange={() => change(toggled(chosen, medium, parent))}
    />
  );
}
