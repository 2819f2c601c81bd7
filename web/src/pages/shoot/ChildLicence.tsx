// Whether a council has to be asked before a child is filmed, by when, and why (R25); beside a minor's release.

import { useQuery } from "@tanstack/react-query";
import { blocks } from "../../api/blocks";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import type { SavedRecord } from "../../api/types";
import { useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import { Stated } from "../../ui/State";
import { showDeadline } from "../../words/dates";
import type { Pattern } from "../../words/states";

type State = components["schemas"]["ChildLicenceState"];

const states: Record<State, [word: string, pattern: Pattern]> = {
  granted: ["granted", "covered"],
  asked: ["asked for", "ends_soon"],
  elsewhere: ["filmed elsewhere", "unknown"],
  own_event: ["own event", "restricted"],
  exempt_day: ["no licence for this day", "restricted"],
  to_ask: ["to be asked for", "gap"],
  late: ["too late", "gap"],
  not_said: ["not known", "unknown"],
};

export function ChildLicence({ release }: { release: SavedRecord }) {
  const series = useSeriesId();
  const query = useQuery({
    queryKey: ["series", series, "child-licence", release.id, release.version] as const,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/releases/{id}/child-licence", {
          params: { path: { series, id: release.id } },
          signal,
        }),
      ),
  });
  if (blocks(query)) return <ErrorNote error={query.error} retry={() => query.refetch()} />;
  if (!query.data) return null;
  const { finding } = query.data;
  return (
    <section>
      <h3>Child licence</h3>
      {finding ? (
        <>
          <p>
            <Stated pattern={states[finding.state][1]}>{states[finding.state][0]}</Stated>:{" "}
            {finding.sentence}
          </p>
          <p className="quiet small">
            A council's form goes in 21 days before filming: by {showDeadline(finding.apply_by)}.
            Councils decide; this is not legal advice (R25).
          </p>
        </>
      ) : (
        <p className="quiet">
          Enter the day of filming; then it can be worked out by when a council is asked.
        </p>
      )}
      <p className="quiet small">
        Welfare first: an immediate concern for a child goes to the safeguarding lead or the
        emergency services.
      </p>
    </section>
  );
}
