// What a page says when there is nothing, when it waits, and when something went wrong.
import { Button, Loader } from "@mantine/core";
import { ApiError } from "../api/client";
import styles from "./Notes.module.css";

export function EmptyState({
  title,
  children,
  action,
}: {
  title: string;
  children: React.ReactNode;
  action?: React.ReactNode;
}) {
  return (
    <div className={styles.empty}>
      <p className={styles.lead}>{title}</p>
      <div className="quiet">{children}</div>
      {action && <div className={styles.action}>{action}</div>}
    </div>
  );
}

export function Waiting({ what }: { what: string }) {
  return (
    <output className={styles.waiting}>
      <Loader size={16} /> Reading {what} …
    </output>
  );
}

const advice: Record<string, string> = {
  not_allowed: "Ask an administrator or the series producer for the role that this needs.",
  not_found: "It may have been removed, or the address is wrong.",
  rate_limited: "Too many tries in a short time. Wait a little, then try again.",
  unavailable: "Try again when the connection is back.",
  too_large: "Choose a smaller file.",
  internal:
    "The fault is the server's. Try again; if it stays, give the number below to whoever runs it.",
};

/** An error in words: what happened to the data, and what to do. `saving` adds that nothing was saved. */
export function ErrorNote({
  error,
  saving = false,
  retry,
}: {
  error: unknown;
  saving?: boolean;
  retry?: () => void;
}) {
  if (!error) return null;
  const known = error instanceof ApiError ? error : null;
  const detail = known?.detail || (error instanceof Error ? error.message : String(error));
  const title = known?.title ?? "Something on this page failed";
  const todo = known ? advice[known.code] : undefined;
  return (
    <div role="alert" className={styles.error}>
      <p className={styles.lead}>
        {title}
        {saving && ": nothing was saved"}
      </p>
      {detail.replace(/\.$/, "") !== title && <p>{detail}</p>}
      {known && known.fields.length > 0 && (
        <ul>
          {known.fields.map((field) => (
            <li key={`${field.pointer}${field.detail}`}>{field.detail}</li>
          ))}
        </ul>
      )}
      {todo && <p>{todo}</p>}
      {known?.instance && known.status >= 500 && (
        <p className="small quiet">Number of this request: {known.instance}</p>
      )}
      {retry && (
        <Button variant="default" size="xs" onClick={retry}>
          Try again
        </Button>
      )}
    </div>
  );
}

/** A standing caution (rulebook 7), quiet but never hidden. */
export function Caution({ children }: { children: React.ReactNode }) {
  return <p className={styles.caution}>{children}</p>;
}
