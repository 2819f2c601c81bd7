// Which episode, cut and specification a page is about: chosen here, kept in the address.

import { Select } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { blocks } from "../../api/blocks";
import { type Cut, cutsQuery } from "../../api/clearance";
import { useRecords } from "../../api/records";
import { type Episode, usePageSearch, useSeriesId } from "../../app/series";
import { EmptyState, ErrorNote, Waiting } from "../../ui/Notes";
import { useGo } from "../../ui/record/RecordsPage";
import { EpisodeChoice } from "../cut/EpisodeChoice";
import styles from "./clearance.module.css";

export interface Chosen {
  episode: Episode;
  cut: Cut;
  spec: string;
}

/** Shows the choices and, once all three are known, what `children` makes of them. */
export function CutAndSpec({ children }: { children: (chosen: Chosen) => React.ReactNode }) {
  return (
    <EpisodeChoice>
      {(episode) => <OfEpisode episode={episode}>{children}</OfEpisode>}
    </EpisodeChoice>
  );
}

function OfEpisode({
  episode,
  children,
}: {
  episode: Episode;
  children: (chosen: Chosen) => React.ReactNode;
}) {
  const series = useSeriesId();
  const search = usePageSearch();
  const go = useGo();
  const specs = useRecords(series, "specifications");
  const cuts = useQuery(cutsQuery(series, episode.id));
  if (blocks(specs)) return <ErrorNote error={specs.error} retry={() => specs.refetch()} />;
  if (blocks(cuts)) return <ErrorNote error={cuts.error} retry={() => cuts.refetch()} />;
  if (!specs.data || !cuts.data) return <Waiting what="cuts and specifications" />;
  const cut =
    cuts.data.find((one) => one.id === search.cut) ??
    cuts.data.find((one) => one.current) ??
    cuts.data[0];
  const spec = specs.data.find((one) => one.id === search.spec) ?? specs.data[0];
  if (!cut) {
    return (
      <EmptyState title={`No cut of “${episode.title}” was imported yet.`}>
        <Link to="/s/$series/cut/versions" params={{ series }} search={{ episode: episode.id }}>
          Import an edit list
        </Link>
        , or send it with the waybill command: waybill cut send FILE.
      </EmptyState>
    );
  }
  if (!spec) {
    return (
      <EmptyState title="There is nothing to measure against yet.">
        Clearance is asked for a delivery specification: its territories, media and dates.{" "}
        <Link
          to="/s/$series/delivery/specifications"
          params={{ series }}
          search={{ record: "new" }}
        >
          Add a specification
        </Link>
      </EmptyState>
    );
  }
  return (
    <>
      <div className={styles.choosers}>
        <Select
          label="Cut"
          data={cuts.data.map((one) => ({
            value: one.id,
            label: one.locked ? `${one.name} (locked)` : one.name,
          }))}
          value={cut.id}
          allowDeselect={false}
          onChange={(id) => go({ cut: id ?? undefined, record: undefined })}
        />
        <Select
          label="Measured against"
          data={specs.data.map((one) => ({ value: one.id, label: String(one.name) }))}
          value={spec.id}
          allowDeselect={false}
          onChange={(id) => go({ spec: id ?? undefined, record: undefined })}
        />
      </div>
      {children({ episode, cut, spec: spec.id })}
    </>
  );
}
