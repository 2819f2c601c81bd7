// A state drawn as a pattern with its word beside it.
import { type Pattern, patternFor, type Word, wordFor } from "../words/states";
import "./state.css";

/** The bar alone, for the left edge of a row whose text holds the word. */
export function StateBar({ pattern }: { pattern: Pattern }) {
  return <span className="pattern state-bar" data-pattern={pattern} aria-hidden="true" />;
}

export function StateWord({ words, value }: { words: readonly Word[]; value: unknown }) {
  return <Stated pattern={patternFor(words, value)}>{wordFor(words, value)}</Stated>;
}

/** A pattern with words of the page's own. */
export function Stated({ pattern, children }: { pattern: Pattern; children: React.ReactNode }) {
  return (
    <span className="state-word">
      <StateBar pattern={pattern} />
      <span>{children}</span>
    </span>
  );
}
