// A table that may be wider than the page: it scrolls sideways in its own frame, which the keyboard can reach.
import styles from "./Scroll.module.css";

export function Scroll({ label, children }: { label: string; children: React.ReactNode }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: arrow keys scroll what has the focus (WCAG 2.1.1)
    <section className={styles.scroll} aria-label={label} tabIndex={0}>
      {children}
    </section>
  );
}
