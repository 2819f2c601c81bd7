// Tables that are no list of records can be taken away too: as they are shown, into a spreadsheet.
import { Button } from "@mantine/core";
import { useRef } from "react";
import { saveAs, shownIn, toCsv } from "../words/csv";

/** The button for rows that the page has at hand; `name` becomes the file's. */
export function TakeRows({ name, rows }: { name: string; rows: () => string[][] }) {
  return (
    <Button
      variant="default"
      className="no-print"
      onClick={() => saveAs(`${name}.csv`, new Blob([toCsv(rows())], { type: "text/csv" }))}
    >
      Take out as CSV
    </Button>
  );
}

/** A table with its button below. */
export function TakeTable({ name, children }: { name: string; children: React.ReactNode }) {
  const frame = useRef<HTMLDivElement>(null);
  const rows = () => {
    const table = frame.current?.querySelector("table");
    return table ? shownIn(table) : [];
  };
  return (
    <div ref={frame}>
      {children}
      <p className="no-print" style={{ marginTop: 12 }}>
        <TakeRows name={name} rows={rows} />
      </p>
    </div>
  );
}
