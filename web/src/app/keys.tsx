// Keys that work everywhere: `/` to find, `?` for this list. Single letters can be switched off (WCAG 2.1.4).
import { Modal, Switch } from "@mantine/core";
import { useEffect, useSyncExternalStore } from "react";
import styles from "./Layout.module.css";

const STORE = "waybill-keys";
const listeners = new Set<() => void>();

export function keysAreOn(): boolean {
  try {
    return localStorage.getItem(STORE) !== "off";
  } catch {
    return true;
  }
}

export function switchKeys(on: boolean): void {
  try {
    localStorage.setItem(STORE, on ? "on" : "off");
  } catch {
    // Storage may be refused: the choice then lasts until the page is left.
  }
  for (const listener of listeners) listener();
}

const subscribe = (listener: () => void) => {
  listeners.add(listener);
  return () => listeners.delete(listener);
};

export const useKeysAreOn = () => useSyncExternalStore(subscribe, keysAreOn);

export function isTyping(target: EventTarget | null): boolean {
  if (!(target instanceof HTMLElement)) return false;
  return target.isContentEditable || /^(input|textarea|select)$/i.test(target.tagName);
}

/** Calls `act` for a single key, unless somebody types, a dialog is open, or the keys are off. */
export function useKey(key: string, act: () => void): void {
  useEffect(() => {
    const listen = (event: KeyboardEvent) => {
      if (event.key !== key || event.ctrlKey || event.metaKey || event.altKey) return;
      if (!keysAreOn() || isTyping(event.target) || event.defaultPrevented) return;
      if (document.querySelector('[role="dialog"]')) return;
      event.preventDefault();
      act();
    };
    window.addEventListener("keydown", listen);
    return () => window.removeEventListener("keydown", listen);
  }, [key, act]);
}

const keys: readonly [keys: string, does: string][] = [
  ["/", "Go to the find field of this page"],
  ["↑ ↓", "Go through the rows of a list"],
  ["Enter", "Open the row beside the list"],
  ["e", "Edit the open record"],
  ["n", "New record, where the page has one"],
  ["Esc", "Close the open record or stop editing"],
  ["Ctrl Enter", "Save the form"],
  ["?", "Show these keys"],
];

export function KeyHelp({ opened, onClose }: { opened: boolean; onClose: () => void }) {
  const on = useKeysAreOn();
  return (
    <Modal opened={opened} onClose={onClose} title="Keys">
      <dl className={styles.keys}>
        {keys.map(([key, does]) => (
          <div key={key}>
            <dt>
              <kbd>{key}</kbd>
            </dt>
            <dd>{does}</dd>
          </div>
        ))}
      </dl>
      <Switch
        checked={on}
        onChange={(event) => switchKeys(event.currentTarget.checked)}
        label="Single-letter keys on this device"
      />
    </Modal>
  );
}
