// Sealed notes that name the reader, whatever their roles: each opening is written down.
import { useQuery } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import { useSeries, useSeriesId } from "../../app/series";
import { Caution, EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import recordStyles from "../../ui/record/record.module.css";
import { OneNote } from "../shoot/SealedNotes";

export function MyNotes() {
  const series = useSeries();
  return (
    <Page
      title="Notes for you"
      place={series?.title}
      lead="Sealed notes that name you as a reader. Nobody else opens them, an administrator neither."
    >
      <List />
      <Caution>
        Each opening leaves a line in the list of changes, without the text. Open a note where
        nobody reads over your shoulder. An immediate concern for a child goes to the safeguarding
        lead or the emergency services, not into a note.
      </Caution>
    </Page>
  );
}

function List() {
  const series = useSeriesId();
  const query = useQuery({
    queryKey: ["series", series, "sealed-notes", "mine"] as const,
    queryFn: async ({ signal }) =>
      (
        await answered(
          api.GET("/api/series/{series}/my-sealed-notes", { params: { path: { series } }, signal }),
        )
      ).items,
  });
  if (query.error) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return <Waiting what="the notes" />;
  if (query.data.length === 0) {
    return (
      <EmptyState title="No sealed note names you.">
        Whoever seals a note, beside a person or a release, names who may open it.
      </EmptyState>
    );
  }
  return (
    <ul className={recordStyles.related}>
      {query.data.map((note) => (
        <li key={note.id}>
          <OneNote note={note} />
        </li>
      ))}
    </ul>
  );
}
