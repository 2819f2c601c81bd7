// Short notes at the foot of the page: what was done, and the way to undo it for half a minute.
import { createContext, useCallback, useContext, useMemo, useRef, useState } from "react";
import styles from "./Toasts.module.css";

/** How long a removal can be undone from here; later, the bin and the audit trail remain. */
const UNDO_LIFE = 30_000;
const LIFE = 6_000;

interface Toast {
  id: number;
  text: string;
  undo?: () => Promise<unknown>;
  /** What is said once it is undone. */
  undone?: string;
  /** The record that it is about: only the last thing done to it can be undone from here. */
  about?: string;
}

interface Toasts {
  /** Takes away what was offered about a record that is being changed again. */
  forget(about: string): void;
  say(text: string): void;
  offerUndo(
    text: string,
    undo: () => Promise<unknown>,
    more?: Pick<Toast, "undone" | "about">,
  ): void;
}

const Context = createContext<Toasts | null>(null);

export function useToasts(): Toasts {
  const toasts = useContext(Context);
  if (!toasts) throw new Error("useToasts needs ToastHost above it");
  return toasts;
}

export function ToastHost({ children }: { children: React.ReactNode }) {
  const [toasts, setToasts] = useState<Toast[]>([]);
  const counter = useRef(0);

  const drop = useCallback((id: number) => setToasts((all) => all.filter((t) => t.id !== id)), []);
  const add = useCallback(
    (toast: Omit<Toast, "id">) => {
      counter.current += 1;
      const id = counter.current;
      setToasts((all) => [
        ...all.filter(({ about }) => !about || about !== toast.about).slice(-2),
        { ...toast, id },
      ]);
      window.setTimeout(() => drop(id), toast.undo ? UNDO_LIFE : LIFE);
    },
    [drop],
  );
  const value = useMemo<Toasts>(
    () => ({
      forget: (about) => setToasts((all) => all.filter((toast) => toast.about !== about)),
      say: (text) => add({ text }),
      offerUndo: (text, undo, more) => add({ text, undo, ...more }),
    }),
    [add],
  );

  const undo = async (toast: Toast) => {
    drop(toast.id);
    try {
      await toast.undo?.();
      add({ text: toast.undone ?? "Brought back." });
    } catch (error) {
      add({
        text: `It could not be undone: ${error instanceof Error ? error.message : "no answer"}`,
      });
    }
  };

  return (
    <Context.Provider value={value}>
      {children}
      <section className={`${styles.host} no-print`} aria-label="Messages" aria-live="polite">
        {toasts.map((toast) => (
          <div key={toast.id} className={styles.toast}>
            <span id={`message-${toast.id}`}>{toast.text}</span>
            {toast.undo && (
              <button
                type="button"
                className={styles.action}
                aria-describedby={`message-${toast.id}`}
                onClick={() => undo(toast)}
              >
                Undo
              </button>
            )}
            <button type="button" className={styles.action} onClick={() => drop(toast.id)}>
              Dismiss
            </button>
          </div>
        ))}
      </section>
    </Context.Provider>
  );
}
