// The frame of one page: its title in the browser and as the one h1, a line of explanation, one main action.
import { useEffect } from "react";
import styles from "./Page.module.css";

export function Page({
  title,
  place,
  lead,
  action,
  children,
}: {
  title: string;
  /** Where the page is, for the browser's title: the series' name. */
  place?: string | undefined;
  lead?: React.ReactNode;
  action?: React.ReactNode;
  children: React.ReactNode;
}) {
  useTitle(place ? `${title} · ${place}` : title);
  return (
    <>
      <header className={styles.head}>
        <div>
          <h1>{title}</h1>
          {lead && <p className={styles.lead}>{lead}</p>}
        </div>
        {action && <div className={`${styles.action} no-print`}>{action}</div>}
      </header>
      {children}
    </>
  );
}

export function useTitle(title: string): void {
  useEffect(() => {
    document.title = `${title} · Waybill`;
  }, [title]);
}
