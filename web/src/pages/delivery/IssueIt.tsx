// Issues a paper as it stands now: it is kept byte for byte, and whoever sees deliveries may take it away.
import { Button, Select, TextInput } from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { Link } from "@tanstack/react-router";
import { useState } from "react";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";

type Kind = components["schemas"]["IssuedKind"];
type Form = components["schemas"]["IssuedForm"];

export function IssueIt({
  episode,
  kind,
  asked,
}: {
  episode: string;
  kind: Kind;
  asked: { spec: string; cut: string };
}) {
  const series = useSeriesId();
  const may = useMay("edit_deliverables");
  const queries = useQueryClient();
  const [open, setOpen] = useState(false);
  const [form, setForm] = useState<Form>("pdf");
  const [note, setNote] = useState("");
  const issue = useMutation({
    mutationFn: () =>
      answered(
        api.POST("/api/series/{series}/episodes/{episode}/issued", {
          params: { path: { series, episode }, query: asked },
          body: { kind, form, note },
        }),
      ),
    onSuccess: () => queries.invalidateQueries({ queryKey: ["series", series, "issued"] }),
  });
  if (!may) return null;
  if (issue.data) {
    return (
      <p className="no-print">
        Issued as {issue.data.file_name}; it stands under{" "}
        <Link to="/s/$series/delivery/issued" params={{ series }}>
          Issued
        </Link>
        .
      </p>
    );
  }
  if (!open) {
    return (
      <p className="no-print">
        <Button variant="default" onClick={() => setOpen(true)}>
          Issue to the broadcaster
        </Button>
      </p>
    );
  }
  return (
    <form
      className="no-print"
      style={{ maxWidth: "34rem" }}
      onSubmit={(event) => {
        event.preventDefault();
        issue.mutate();
      }}
    >
      <p>
        It is kept as it stands now; everybody who sees this series' deliveries may take it away
        under Issued, the broadcaster's contacts too. They get a mail that it is there, without what
        it says.
      </p>
      <Select
        label="As"
        data={[
          { value: "pdf", label: "PDF" },
          { value: "xlsx", label: "Workbook (XLSX)" },
          { value: "csv", label: "CSV" },
        ]}
        value={form}
        allowDeselect={false}
        onChange={(value) => setForm((value ?? "pdf") as Form)}
      />
      <TextInput
        label="Said with it"
        description="The receiver reads it; nothing sensitive."
        maxLength={2000}
        value={note}
        onChange={(event) => setNote(event.currentTarget.value)}
      />
      <ErrorNote error={issue.error} saving />
      <p>
        <Button type="submit" loading={issue.isPending}>
          Issue it
        </Button>{" "}
        <Button variant="default" onClick={() => setOpen(false)}>
          Stop
        </Button>
      </p>
    </form>
  );
}
