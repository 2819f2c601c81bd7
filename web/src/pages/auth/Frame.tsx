// The plain sheet that the signed-out pages stand on.

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
export function linkToken(): string {
  const fragment = window.location.hash.slice(1);
  return new URLSearchParams(fragment).get("token") ?? fragment;
}
