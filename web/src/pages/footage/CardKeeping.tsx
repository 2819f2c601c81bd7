// How well a card is kept: three copies, two media, one off site (R39), and the level of preservation (R40).
import { useQuery } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useSeriesId } from "../../app/series";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { Stated } from "../../ui/State";
import { counted } from "../../words/amounts";

export type Kept = components["schemas"]["Kept"];

export function CardKeeping({ card }: { card: string }) {
  const series = useSeriesId();
  const { data, error, refetch } = useQuery({
    queryKey: ["series", series, "cards", "keeping", card],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/cards/{id}/keeping", {
          params: { path: { series, id: card } },
          signal,
        }),
      ),
  });
  if (error) return <ErrorNote error={error} retry={() => refetch()} />;
  if (!data) return <Waiting what="its copies" />;
  return (
    <section>
      <h3>How well it is kept</h3>
      <KeptWords kept={data.kept ?? null} />
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
