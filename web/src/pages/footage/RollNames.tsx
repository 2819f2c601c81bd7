// The names of cards, checked against the pattern, their days and each other; and what some of them should be: offered, done
// only when somebody says so, here and on the drives.
import { Button } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { ErrorNote, Waiting } from "../../ui/Notes";
import recordStyles from "../../ui/record/record.module.css";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { counted, wholeWords } from "../../words/amounts";
import styles from "./footage.module.css";

type Names = components["schemas"]["RollNames"];
type Change = components["schemas"]["NameChange"];

const cardsWords = (count: number) => counted(count, "card");

function useRollNames() {
  const series = useSeriesId();
  return useQuery({
    queryKey: ["series", series, "roll-names"],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/roll-names", { params: { path: { series } }, signal }),
      ),
  });
}

/** Where the cards are many, their names stand far below: says so at the top. */
export function NamesHint() {
  const count = useRollNames().data?.problems.length ?? 0;
  if (count === 0) return null;
  return (
    <p className="no-print">
      <a href="#names">
        {count === 1 ? "1 thing is" : `${wholeWords(count)} things are`} amiss with the names of
        cards
      </a>
    </p>
  );
}

/** A text as a file to be kept. */
function download(name: string, text: string) {
  const url = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  URL.revokeObjectURL(url);
}

export function RollNames() {
  const { data, error, refetch } = useRollNames();
  // what was renamed here still has to be renamed on drives
  const [done, setDone] = useState<Names | null>(null);
  if (error) return <ErrorNote error={error} retry={() => refetch()} />;
  if (!data) return <Waiting what="the names of cards" />;
  return (
    <section aria-label="Names of cards" id="names">
      <h2>Names of cards</h2>
      {data.problems.length === 0 && (
        <p>
          <Stated pattern="covered">
            Nothing is wrong with the names of {cardsWords(data.cards)} by {data.pattern}.
          </Stated>
        </p>
      )}
      <ul className={recordStyles.related}>
        {data.problems.map((problem) => (
          <li key={problem}>
            <Stated pattern="unknown">{problem}</Stated>
          </li>
        ))}
      </ul>
      {data.renamings.length > 0 && <Plan names={data} onDone={setDone} />}
      {data.renamings.length === 0 && done && <Plan names={done} isDone onDone={setDone} />}
    </section>
  );
}

interface PlanProps {
  names: Names;
  /** The cards have their new names here. */
  isDone?: boolean;
  onDone: (names: Names | null) => void;
}

function Plan({ names, isDone, onDone }: PlanProps) {
  const { renamings, script } = names;
  const list = renamings.map((one) => `${one.old}\t${one.new}\n`).join("");
  return (
    <>
      <h3>Names of which only one correction is possible</h3>
      {!isDone && <p className="quiet">Nothing is renamed before you do it.</p>}
      <ul className={styles.touched}>
        {renamings.map((one) => (
          <li key={one.old}>
            <span className={styles.rename}>
              {one.old} <span className="quiet">→ </span>
              <strong>{one.new}</strong>
            </span>
            <span className="quiet small">{one.why}</span>
          </li>
        ))}
      </ul>
      <ol className={styles.steps}>
        <li>
          Keep the script, for every drive that holds these cards. Run it in the folder where they
          lie; it overwrites nothing, and <code>back</code> after its name undoes it.
          <div className={`${styles.stepButtons} no-print`}>
            <Button variant="default" onClick={() => download("rename-rolls.sh", script)}>
              Shell script, to be read first
            </Button>
            <Button variant="default" onClick={() => download("renamings.txt", list)}>
              Old and new names as a list
            </Button>
          </div>
        </li>
        <li>
          Here, the cards keep their files, copies and notes, and take the number, camera and day of
          their new names.
          {isDone ? (
            <p>
              <Stated pattern="covered">Renamed here.</Stated>
            </p>
          ) : (
            <RenameHere names={names} onDone={onDone} />
          )}
        </li>
        <li>
          Then, for each drive, <code>waybill scan</code> as before. Where a hash list lies above
          the cards, it has their old names: <code>waybill verify FOLDER --accept-renames</code>{" "}
          records the new ones.
        </li>
      </ol>
    </>
  );
}

function RenameHere({ names, onDone }: Omit<PlanProps, "isDone">) {
  const series = useSeriesId();
  const queries = useQueryClient();
  const toasts = useToasts();
  const may = useMay("edit_footage");
  const send = async (renamings: Change[]) => {
    await answered(
      api.POST("/api/series/{series}/roll-names", {
        params: { path: { series } },
        body: { renamings },
      }),
    );
    await queries.invalidateQueries({ queryKey: ["series", series] });
  };
  const { renamings } = names;
  const rename = useMutation({
    mutationFn: () => send(renamings.map((one) => ({ old: one.old, new: one.new }))),
    onSuccess: () => {
      onDone(names);
      toasts.offerUndo(`Renamed ${cardsWords(renamings.length)}.`, async () => {
        await send(renamings.map((one) => ({ old: one.new, new: one.old })));
        onDone(null);
      });
    },
  });
  if (!may) return <p className="quiet">Who may edit footage renames them.</p>;
  return (
    <div className={`${styles.stepButtons} no-print`}>
      <Button loading={rename.isPending} onClick={() => rename.mutate()}>
        Rename {cardsWords(renamings.length)} here
      </Button>
      {rename.error && <ErrorNote error={rename.error} />}
    </div>
  );
}
