// How well a card is kept: three copies, two media, one off site (R39), and the level of preservation (R40).
import { useQuery } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useSeriesId } from "../../app/series";
import { ErrorNote, Waiting } from "../../ui/Notes";
import { Stated } from "../../ui/State";

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

/** `3-1-1`: copies, media, copies off site. */
export const digits = (kept: Kept) =>
  [kept.three_two_one.copies, kept.three_two_one.media, kept.three_two_one.off_site].join("-");

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
        <Stated pattern={kept.holds ? "covered" : "gap"}>
          {digits(kept)} of 3-2-1 (copies, media, off site)
          {kept.failing.length > 0 && `: fails ${kept.failing.join(", ")}`}.
        </Stated>
      </p>
      <p>
        <Stated pattern={kept.ladder.level > 0 ? "covered" : "gap"}>
          Level {kept.ladder.level} of preservation
          {kept.next_needs.length > 0 && `; for the next it needs ${kept.next_needs.join(", ")}`}.
        </Stated>
      </p>
    </>
  );
}
