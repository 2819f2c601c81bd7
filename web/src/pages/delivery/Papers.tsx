// The papers of an episode: third-party log, credits, the insurer's checklist, chain of title. One page for all; which
// one stands in the address.

import { Select } from "@mantine/core";
import { useQuery } from "@tanstack/react-query";
import { blocks } from "../../api/blocks";
import { withQuery } from "../../api/client";
import { type PaperKind, type PrintedPaper, paperPath, paperQuery } from "../../api/papers";
import { useMay } from "../../app/may";
import { usePageSearch, useSeries, useSeriesId } from "../../app/series";
import { Breakable } from "../../ui/Breakable";
import { Lines } from "../../ui/Lines";
import { Caution, ErrorNote, Waiting } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useGo } from "../../ui/record/RecordsPage";
import { Scroll } from "../../ui/Scroll";
import table from "../../ui/table.module.css";
import { showInstant } from "../../words/dates";
import { type Chosen, CutAndSpec } from "../clearance/CutAndSpec";
import { Checklist } from "./Checklist";
import { IssueIt } from "./IssueIt";
import styles from "./report.module.css";

const kinds: readonly { value: PaperKind; label: string }[] = [
  { value: "third_party", label: "Third-party material log" },
  { value: "credits", label: "Credit list" },
  { value: "checklist", label: "Clearance checklist for the insurer" },
  { value: "chain_of_title", label: "Chain of title" },
];

export function Papers() {
  const series = useSeries();
  return (
    <Page
      title="Papers"
      place={series?.title}
      lead="Lists that go with a delivery, each made from the records and a cut."
    >
      <CutAndSpec>{(chosen) => <OnePaper {...chosen} />}</CutAndSpec>
    </Page>
  );
}

function OnePaper({ episode, cut, spec }: Chosen) {
  const series = useSeriesId();
  const search = usePageSearch();
  const go = useGo();
  const seesClearance = useMay("view_clearance");
  const seesReleases = useMay("view_releases");
  const seesLicences = useMay("view_licences");
  const kind = kinds.find((one) => one.value === search.paper)?.value ?? "third_party";
  const asked = { spec, cut: cut.id };
  const query = useQuery(paperQuery(series, episode.id, kind, asked));
  return (
    <>
      <div className="no-print" style={{ maxWidth: "24rem" }}>
        <Select
          label="Paper"
          data={[...kinds]}
          value={kind}
          allowDeselect={false}
          onChange={(paper) => go({ paper: paper ?? undefined })}
        />
      </div>
      <p className={`${styles.forms} no-print`}>
        Take it away as{" "}
        {(["pdf", "xlsx", "csv"] as const).map((form) => (
          <a key={form} href={paperPath(series, episode.id, kind, form, asked)} download>
            {form.toUpperCase()}
          </a>
        ))}
      </p>
      <IssueIt key={`${kind} ${spec} ${cut.id}`} episode={episode.id} kind={kind} asked={asked} />
      {(seesReleases || seesLicences) && (
        <p className="no-print">
          <a
            href={withQuery(`/api/series/${series}/episodes/${episode.id}/binder.pdf`, asked)}
            download
          >
            Release and licence binder: every scan behind this cut in one PDF
          </a>
        </p>
      )}
      {blocks(query) ? (
        <ErrorNote error={query.error} retry={() => query.refetch()} />
      ) : !query.data ? (
        <Waiting what="the paper" />
      ) : (
        <>
          <Head paper={query.data} />
          {kind === "checklist" && seesClearance ? (
            <Checklist episode={episode.id} asked={asked} />
          ) : (
            <Sections paper={query.data} />
          )}
          <Lines title="Assumed" lines={query.data.assumptions} />
          <section>
            <h2>Cautions</h2>
            {query.data.cautions.map((caution) => (
              <Caution key={caution}>{caution}</Caution>
            ))}
          </section>
        </>
      )}
    </>
  );
}

function Head({ paper }: { paper: PrintedPaper }) {
  return (
    <section aria-label={paper.title}>
      <h2>{paper.title}</h2>
      {paper.verdict && <p>{paper.verdict}</p>}
      <dl className={styles.facts}>
        {paper.facts.map(({ name, value }) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
        <div>
          <dt>Made</dt>
          <dd>
            {showInstant(paper.made_at)}, by {paper.made_by}
          </dd>
        </div>
      </dl>
    </section>
  );
}

export function Sections({ paper }: { paper: PrintedPaper }) {
  return paper.sections.map((section) => (
    <section key={section.title}>
      <h2>{section.title}</h2>
      {section.lead && <p className="quiet">{section.lead}</p>}
      {section.rows.length === 0 ? (
        <p className="quiet">{section.nothing}</p>
      ) : (
        <Scroll label={section.title}>
          <table className={`${table.table} ${table.blocks} ${styles.table}`}>
            <caption className="visually-hidden">{section.title}</caption>
            <thead>
              <tr>
                {section.columns.map((column) => (
                  <th key={column.name} scope="col">
                    {column.name}
                  </th>
                ))}
              </tr>
            </thead>
            <tbody>
              {section.rows.map((row, at) => (
                // biome-ignore lint/suspicious/noArrayIndexKey: rows of a paper have no identity but their place
                <tr key={at}>
                  {row.cells.map((cell, place) => (
                    <td
                      key={section.columns[place]?.name}
                      data-head={section.columns[place]?.name.toLowerCase()}
                    >
                      {row.open && place === 0 ? (
                        <strong>{cell}</strong>
                      ) : (
                        <Breakable>{cell}</Breakable>
                      )}
                    </td>
                  ))}
                </tr>
              ))}
            </tbody>
          </table>
        </Scroll>
      )}
    </section>
  ));
}
