// Addresses and file names have no spaces: in a column they break at their joints, and leave the others their room.
import { Fragment } from "react";

const LONG = 20;

/** The text in pieces between which a line may break. */
export function pieces(text: string): string[] {
  return text
    .split(/(\s+)/)
    .flatMap((word) => (word.length > LONG ? word.split(/(?<=[/._?&=-])(?![/._?&=-])/) : [word]));
}

export function Breakable({ children }: { children: string }) {
  return pieces(children).map((piece, at) => (
    // biome-ignore lint/suspicious/noArrayIndexKey: pieces have no identity but their place
    <Fragment key={at}>
      {at > 0 && <wbr />}
      {piece}
    </Fragment>
  ));
}
