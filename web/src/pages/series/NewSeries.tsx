// A new series.
import { useQueryClient } from "@tanstack/react-query";
import { useNavigate } from "@tanstack/react-router";
import { post } from "../../api/client";
import type { SavedRecord } from "../../api/types";
import { Page } from "../../ui/Page";
import { nowhere } from "../../ui/record/lookup";
import { RecordForm } from "../../ui/record/RecordForm";
import { seriesFields } from "./seriesFields";

const description = { one: "series", fields: seriesFields };

export function NewSeries() {
  const navigate = useNavigate();
  const queries = useQueryClient();
  return (
    <Page title="New series" lead="All of this can be changed later.">
      <RecordForm
        description={description}
        record={null}
        lookup={nowhere}
        series=""
        level={2}
        saveWords="Make the series"
        save={(body) => post("/api/series", body)}
        onSaved={async (saved) => {
          await queries.invalidateQueries({ queryKey: ["me"] });
          await navigate({ to: "/s/$series", params: { series: (saved as SavedRecord).id } });
        }}
      />
    </Page>
  );
}
