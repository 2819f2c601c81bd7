// "Why?": the reasons of an answer, the rule behind each, the dates used, what was assumed and who entered it.
import { Drawer } from "@mantine/core";
import { showDate } from "../words/dates";
import type { Pattern } from "../words/states";
import { Stated } from "./State";
import styles from "./WhyDrawer.module.css";

export interface Reason {
  words: string;
  pattern?: Pattern;
  /** The rule in words, with its number. */
  rule?: string;
  dates?: readonly { what: string; date: string | null }[];
  assumed?: readonly string[];
  enteredBy?: string;
  /** A link to the record that it rests on. */
  source?: React.ReactNode;
}

export function WhyDrawer({
  opened,
  onClose,
  title,
  answer,
  reasons,
}: {
  opened: boolean;
  onClose: () => void;
  title: string;
  answer: React.ReactNode;
  reasons: readonly Reason[];
}) {
  return (
    <Drawer opened={opened} onClose={onClose} title={title} size="lg">
      <div className={styles.answer}>{answer}</div>
      {reasons.length === 0 && <p className="quiet">No reasons were given with this answer.</p>}
      <ol className={styles.reasons}>
        {reasons.map((reason) => (
          <li key={`${reason.words}${reason.rule ?? ""}`}>
            <Stated pattern={reason.pattern ?? "none"}>{reason.words}</Stated>
            <ReasonDetails reason={reason} />
          </li>
        ))}
      </ol>
      <p className="quiet small">
        This follows from what was typed in and from the rules shown. It is not legal advice;
        counsel and local law decide.
      </p>
    </Drawer>
  );
}

function ReasonDetails({ reason }: { reason: Reason }) {
  return (
    <dl className={styles.details}>
      {reason.rule && (
        <div>
          <dt>Rule</dt>
          <dd>{reason.rule}</dd>
        </div>
      )}
      {reason.dates?.map(({ what, date }) => (
        <div key={what}>
          <dt>{what}</dt>
          <dd>{date ? showDate(date) : "not known"}</dd>
        </div>
      ))}
      {reason.assumed?.map((assumption) => (
        <div key={assumption}>
          <dt>Assumed</dt>
          <dd>{assumption}</dd>
        </div>
      ))}
      {reason.enteredBy && (
        <div>
          <dt>Entered by</dt>
          <dd>{reason.enteredBy}</dd>
        </div>
      )}
      {reason.source && (
        <div>
          <dt>Rests on</dt>
          <dd>{reason.source}</dd>
        </div>
      )}
    </dl>
  );
}
