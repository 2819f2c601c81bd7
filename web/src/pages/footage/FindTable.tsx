// The hits: what each is, where its copies lie, who holds them, when they were last read, and the path to paste.
import { Button, Checkbox } from "@mantine/core";
import { Link } from "@tanstack/react-router";
import { useState } from "react";
import { usePageSearch } from "../../app/series";
import { StateBar } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { showDate, showInstant, showLength } from "../../words/dates";
import { copyStates, loggedWords, patternFor, wordFor } from "../../words/states";
import { framesToSeconds, readRate } from "../../words/timecode";
import { type FileItem, shotKinds } from "./finding";
import styles from "./footage.module.css";
import { Poster } from "./Pictures";

type Copy = FileItem["copies"][number];

export function FindTable({
  items,
  picked,
  setPicked,
}: {
  items: readonly FileItem[];
  picked: ReadonlySet<string>;
  setPicked: (picked: ReadonlySet<string>) => void;
}) {
  const { record } = usePageSearch();
  const [last, setLast] = useState<number | null>(null);
  const pick = (index: number, on: boolean, range: boolean) => {
    const next = new Set(picked);
    const from = range && last !== null ? Math.min(last, index) : index;
    const to = range && last !== null ? Math.max(last, index) : index;
    for (const item of items.slice(from, to + 1)) {
      if (on) next.add(item.id);
      else next.delete(item.id);
    }
    setLast(index);
    setPicked(next);
  };
  const pictured = items.some(({ poster }) => poster);
  const all = items.length > 0 && items.every((item) => picked.has(item.id));
  return (
    <div className={styles.scroll}>
      <table className={styles.table} onKeyDown={walk}>
        <caption className="visually-hidden">Files of the catalogue</caption>
        <thead>
          <tr>
            <th scope="col">
              <Checkbox
                aria-label="Choose all that are shown"
                checked={all}
                indeterminate={!all && picked.size > 0}
                onChange={() => setPicked(all ? new Set() : new Set(items.map(({ id }) => id)))}
              />
            </th>
            <th scope="col">File</th>
            <th scope="col" className={styles.wide}>
              Log
            </th>
            {!record && (
              <>
                <th scope="col" className={styles.wide}>
                  Card
                </th>
                <th scope="col" className={styles.wide}>
                  Shot on
                </th>
                <th scope="col" className={styles.wide}>
                  Starts at
                </th>
                <th scope="col" className={styles.wide}>
                  Length
                </th>
              </>
            )}
          </tr>
        </thead>
        <tbody>
          {items.map((item, index) => (
            <tr key={item.id} data-hit data-selected={item.id === record || undefined}>
              <td className={styles.pick}>
                <Checkbox
                  aria-label={`Choose ${item.name}`}
                  checked={picked.has(item.id)}
                  onChange={() => {}}
                  onClick={(event) => pick(index, !picked.has(item.id), event.shiftKey)}
                />
              </td>
              <td>
                <span className={styles.file}>
                  <StateBar pattern={patternFor(loggedWords, item.logged)} />
                  {pictured && <Poster src={item.poster} name={item.name} />}
                  <span>
                    <Link
                      to="."
                      search={(search) => ({ ...search, record: item.id })}
                      resetScroll={false}
                    >
                      {item.name}
                    </Link>
                    <span className={`${styles.narrow} small`}>{factWords(item)}</span>
                    <Marks item={item} />
                    <Said item={item} />
                    {!record && <Places item={item} />}
                  </span>
                </span>
              </td>
              <td className={styles.wide}>{wordFor(loggedWords, item.logged)}</td>
              {!record && <FileFacts item={item} />}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** Arrows go from hit to hit; up from the first one back to what was typed. */
function walk(event: React.KeyboardEvent<HTMLTableElement>) {
  if (event.key !== "ArrowDown" && event.key !== "ArrowUp") return;
  const links = [...event.currentTarget.querySelectorAll<HTMLElement>("[data-hit] a")];
  const at = links.indexOf(document.activeElement as HTMLElement);
  if (at < 0) return;
  event.preventDefault();
  const next = event.key === "ArrowDown" ? links[at + 1] : links[at - 1];
  if (next) next.focus();
  else if (event.key === "ArrowUp") document.querySelector<HTMLElement>("[data-find]")?.focus();
}

/** `select 1, interview: Wren laughs, 10:02:15:00 to 10:02:20:00`. */
function Marks({ item }: { item: FileItem }) {
  if (item.shots.length === 0) return null;
  return (
    <ul className={styles.places}>
      {item.shots.map((shot) => (
        <li key={shot.id} className="small">
          {markWords(shot)}
        </li>
      ))}
    </ul>
  );
}

/** The lines in which the asked words were said, with the timecode at which each begins. */
function Said({ item }: { item: FileItem }) {
  if (item.said.length === 0) return null;
  return (
    <ul className={styles.places}>
      {item.said.map(({ at, speaker, text }) => (
        <li key={`${at}${text}`} className="small">
          {at} {speaker && `${speaker}: `}“{text}”
        </li>
      ))}
    </ul>
  );
}

export function markWords(shot: FileItem["shots"][number]): string {
  const head = [shot.rank && `select ${shot.rank}`, shot.kind && wordFor(shotKinds, shot.kind)];
  const said = [head.filter(Boolean).join(", "), shot.words].filter(Boolean).join(": ");
  return shot.from && shot.to ? `${said}, ${shot.from} to ${shot.to}` : said;
}

function Places({ item }: { item: FileItem }) {
  if (item.copies.length === 0) {
    return <span className="quiet small">No drive holds it any more.</span>;
  }
  return (
    <ul className={styles.places}>
      {item.copies.map((copy) => (
        <li key={`${copy.drive_id}${copy.path}`}>
          <span className="quiet small">{placeWords(copy)}</span> <CopyPath copy={copy} />
        </li>
      ))}
    </ul>
  );
}

/** `QUAY 1 in the office, with Tam Oriel, verified 9 Mar 2028, 18:00`. */
export function placeWords(copy: Copy): string {
  const where = copy.place ? `${copy.drive}, ${copy.place}` : copy.drive;
  const drive = copy.drive_status === "missing" ? ["this drive is missing"] : [];
  const state = wordFor(copyStates, copy.state);
  return [
    where,
    ...(copy.holder ? [`with ${copy.holder}`] : []),
    `${state} ${showInstant(copy.checked_at)}`,
    ...drive,
  ].join(", ");
}

/** Takes the path that begins with the drive's label: where that is mounted, each machine has its own. */
export function CopyPath({ copy }: { copy: Copy }) {
  const toasts = useToasts();
  const path = copy.full_path;
  const take = async () => {
    try {
      await navigator.clipboard.writeText(path);
      toasts.say(`Copied, from the drive’s label on: ${path}`);
    } catch {
      toasts.say(`This browser does not let the page copy. The path is: ${path}`);
    }
  };
  return (
    <Button
      variant="default"
      size="compact-xs"
      className="no-print"
      title={path}
      aria-label={`Copy the path: ${path}`}
      onClick={take}
    >
      Copy path
    </Button>
  );
}

function lengthWords(item: FileItem): string {
  const rate = item.rate ? readRate(item.rate) : null;
  if (item.frame_count === null || !rate) return "";
  return showLength(framesToSeconds(item.frame_count, rate));
}

/** What stands in columns where there is room: `not logged, 20280309_A001_CAMA_SLIPWAY, 9 Mar 2028, 10:02:15:00, 0:20`. */
function factWords(item: FileItem): string {
  const logged = wordFor(loggedWords, item.logged);
  const facts = [logged, item.card, showDate(item.shot_on), item.start, lengthWords(item)];
  return facts.filter(Boolean).join(", ");
}

function FileFacts({ item }: { item: FileItem }) {
  return (
    <>
      <td className={styles.wide}>{item.card}</td>
      <td className={styles.wide}>{showDate(item.shot_on)}</td>
      <td className={styles.wide}>{item.start}</td>
      <td className={styles.wide}>{lengthWords(item)}</td>
    </>
  );
}
