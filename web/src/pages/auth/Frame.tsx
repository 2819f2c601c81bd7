// The plain sheet that the signed-out pages stand on.
import { useSyncExternalStore } from "react";
import { useTitle } from "../../ui/Page";
import styles from "./Frame.module.css";

export function Frame({ title, children }: { title: string; children: React.ReactNode }) {
  useTitle(title);
  return (
    <main className={styles.sheet}>
      <p className={styles.mark}>Waybill</p>
      <h1>{title}</h1>
      {children}
    </main>
  );
}

/** The secret of a one-time link: after `#`, so that it is in no log and no referrer. */
function linkToken(): string {
  const fragment = window.location.hash.slice(1);
  return new URLSearchParams(fragment).get("token") ?? fragment;
}

function onHashChange(listener: () => void): () => void {
  window.addEventListener("hashchange", listener);
  return () => window.removeEventListener("hashchange", listener);
}

/** The same, also when the link is pasted over the page that is open already: that loads nothing anew. */
export const useLinkToken = () => useSyncExternalStore(onHashChange, linkToken);
