// How well a card is kept: three copies, two media, one off site (R39), and the level of preservation (R40).
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { Fragment } from "react";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useSeriesId } from "../../app/series";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { Stated } from "../../ui/State";
import { counted } from "../../words/amounts";
import { andList } from "../../words/lists";

export type Kept = components["schemas"]["Kept"];

function useKeeping(card: string) {
  const series = useSeriesId();
  return useQuery({
    queryKey: ["series", series, "cards", "keeping", card],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/cards/{id}/keeping", {
          params: { path: { series, id: card } },
          signal,
        }),
      ),
  });
}

/** `All of its 8 files are the content of A012.` */
export function elsewhereWords(cards: readonly { name: string; files: number }[]): string {
  const [first, ...more] = cards;
  if (!first) return "";
  if (more.length > 0) {
    const each = cards.map(({ name, files }) => `${counted(files, "file")} of ${name}`);
    return `What lies in its folders is the content of other cards: ${andList(each)}.`;
  }
  return first.files === 1
    ? `Its one file is the content of ${first.name}.`
    : `All of its ${counted(first.files, "file")} are the content of ${first.name}.`;
}

/** Whose content a card without files of its own holds: a card copied twice under two names. */
export function ContentElsewhere({ card }: { card: string }) {
  const series = useSeriesId();
  const cards = useKeeping(card).data?.elsewhere ?? [];
  if (cards.length === 0) return null;
  return (
    <p>
      <Stated pattern="unknown">
        {elsewhereWords(cards)} Was the card copied twice, under two names? How it is kept and
        whether it may be wiped stands at{" "}
        {cards.map((one, index) => (
          <Fragment key={one.card_id}>
            {index > 0 && ", "}
            <Link
              to="/s/$series/footage/cards"
              params={{ series }}
              search={{ record: one.card_id }}
            >
              {one.name}
            </Link>
          </Fragment>
        ))}
        .
      </Stated>
    </p>
  );
}

export function CardKeeping({ card }: { card: string }) {
  const { data, error, refetch } = useKeeping(card);
  if (error) return <ErrorNote error={error} retry={() => refetch()} />;
  if (!data) return <Waiting what="its copies" />;
  return (
    <section>
      <h3>How well it is kept</h3>
      {data.elsewhere.length > 0 ? (
        <p className="quiet">{elsewhereWords(data.elsewhere)}</p>
      ) : (
        <KeptWords kept={data.kept ?? null} />
      )}
    </section>
  );
}

/** What there is of three copies, two media, one off site, and what lacks. */
export function copiesWords({ three_two_one: { copies, media, off_site }, failing }: Kept): string {
  const there = `${counted(copies, "copy", "copies")} on ${counted(media, "medium", "media")}, ${off_site || "none"} off site`;
  return failing.length > 0 ? `${there}; lacks ${failing.join(", ")}` : there;
}

/** The level of preservation, and what the next one needs. */
export function levelWords({ ladder, next_needs }: Kept): string {
  const level = `level ${ladder.level}`;
  return next_needs.length > 0 ? `${level}; the next needs ${next_needs.join(", ")}` : level;
}

export function KeptWords({ kept }: { kept: Kept | null }) {
  if (!kept) {
    return (
      <p>
        <Stated pattern="unknown">
          Nothing of it is in the catalogue, so nothing can be said.
        </Stated>
      </p>
    );
  }
  return (
    <>
      <p>
        <Stated pattern={kept.holds ? "covered" : "gap"}>{copiesWords(kept)}.</Stated>
      </p>
      <p>
        <Stated pattern={kept.ladder.level > 0 ? "covered" : "gap"}>
          Preservation: {levelWords(kept)}.
        </Stated>
      </p>
    </>
  );
}
