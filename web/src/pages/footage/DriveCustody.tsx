// Who held a drive and where it was: a history that is only added to, and a form that works on a phone at the van.
import { Button, Select, Textarea, TextInput } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import type { components } from "../../api/schema.gen";
import { useMe } from "../../api/session";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { ErrorNote, Waiting } from "../../ui/Notes";
import recordStyles from "../../ui/record/record.module.css";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { showDeadline, showDistance, showInstant } from "../../words/dates";
import { custodyKinds, wordFor } from "../../words/states";

type Custody = components["schemas"]["Custody"];
type CustodyEvent = components["schemas"]["CustodyEvent"];
type Kind = components["schemas"]["CustodyEventKind"];

export function DriveCustody({ drive }: { drive: string }) {
  const series = useSeriesId();
  const may = useMay("edit_footage");
  const [entering, setEntering] = useState<CustodyEvent | "new" | null>(null);
  const { data, error, refetch } = useQuery({
    queryKey: ["series", series, "drives", "custody", drive],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/drives/{id}/custody", {
          params: { path: { series, id: drive } },
          signal,
        }),
      ),
  });
  if (error) return <ErrorNote error={error} retry={() => refetch()} />;
  if (!data) return <Waiting what="who held it" />;
  return (
    <section>
      <h3>Who held it</h3>
      <NextCheck custody={data} />
      {data.faults.map((fault) => (
        <p key={fault}>
          <Stated pattern="unknown">{fault}</Stated>
        </p>
      ))}
      {data.items.length === 0 && (
        <p className="quiet">No hand-over is entered yet. The first says who has it now.</p>
      )}
      <ul className={recordStyles.related}>
        {data.items.toReversed().map((event) => (
          <li key={event.id}>
            <EventWords event={event} stands={data.standing.includes(event.id)} />
            {may && data.standing.includes(event.id) && (
              <Button
                variant="default"
                size="compact-sm"
                className="no-print"
                onClick={() => setEntering(event)}
              >
                Correct
              </Button>
            )}
          </li>
        ))}
      </ul>
      {may && !entering && (
        <div className={`${recordStyles.panelButtons} no-print`}>
          <Button onClick={() => setEntering("new")}>Hand it over</Button>
        </div>
      )}
      {entering && (
        <EventForm
          key={entering === "new" ? "new" : entering.id}
          drive={drive}
          custody={data}
          corrects={entering === "new" ? null : entering}
          done={() => setEntering(null)}
        />
      )}
    </section>
  );
}

function NextCheck({ custody }: { custody: Custody }) {
  const next = custody.next_check;
  if (!next) return null;
  const late = showDistance(next.on).includes("overdue");
  return (
    <p>
      <Stated pattern={late ? "gap" : next.reason === "interval" ? "covered" : "ends_soon"}>
        Check due on {showDeadline(next.on)} ({showDistance(next.on)}): {custody.next_check_words}.
      </Stated>
    </p>
  );
}

/** One event as a sentence. */
export function eventWords(event: CustodyEvent): string {
  const hands =
    event.from_name && event.to_name
      ? `${event.from_name} to ${event.to_name}`
      : event.to_name && `to ${event.to_name}`;
  return [
    wordFor(custodyKinds, event.kind),
    hands,
    event.to_place && `at ${event.to_place}`,
    event.condition,
    event.seal && `seal ${event.seal}`,
    event.signature && `signed ${event.signature}`,
  ]
    .filter(Boolean)
    .join("; ");
}

function EventWords({ event, stands }: { event: CustodyEvent; stands: boolean }) {
  const words = `${showInstant(event.at)}: ${eventWords(event)}`;
  return (
    <span style={{ flex: 1 }}>
      {stands ? words : <s>{words}</s>}
      <span className="quiet small">
        {" "}
        entered by {event.recorded_by_name}
        {event.corrects && ", as a correction"}
        {!stands && "; corrected"}
      </span>
    </span>
  );
}

/** An instant as an input of the browser wants it, in the reader's own zone. */
function forInput(at: Date): string {
  const local = new Date(at.getTime() - at.getTimezoneOffset() * 60_000);
  return local.toISOString().slice(0, 16);
}

interface FormProps {
  drive: string;
  custody: Custody;
  corrects: CustodyEvent | null;
  done: () => void;
}

function EventForm({ drive, custody, corrects, done }: FormProps) {
  const series = useSeriesId();
  const me = useMe();
  const queries = useQueryClient();
  const toasts = useToasts();
  // One id for all tries, so that a lost answer does not enter it twice.
  const [id] = useState(() => crypto.randomUUID());
  const [kind, setKind] = useState<Kind>(corrects?.kind ?? "handed_over");
  const [at, setAt] = useState(forInput(corrects ? new Date(corrects.at) : new Date()));
  const [from, setFrom] = useState(corrects?.from_name ?? custody.holder);
  const [to, setTo] = useState(corrects?.to_name ?? me.user.name);
  const [place, setPlace] = useState(corrects?.to_place ?? "");
  const [condition, setCondition] = useState(corrects?.condition ?? "");
  const [seal, setSeal] = useState(corrects?.seal ?? "");
  const [signature, setSignature] = useState("");
  const handsOver = kind === "handed_over";
  const save = useMutation({
    mutationFn: () =>
      answered(
        api.POST("/api/series/{series}/drives/{id}/custody", {
          params: { path: { series, id: drive } },
          body: {
            id,
            kind,
            at: new Date(at).toISOString(),
            from_name: handsOver ? from : "",
            to_name: handsOver ? to : "",
            to_place: place,
            condition,
            seal,
            signature,
            corrects: corrects?.id ?? null,
          },
        }),
      ),
    onSuccess: async () => {
      toasts.say("Entered.");
      await Promise.all([
        queries.invalidateQueries({ queryKey: ["series", series] }),
        queries.invalidateQueries({ queryKey: ["home"] }),
      ]);
      done();
    },
  });
  return (
    <form
      className={recordStyles.form}
      aria-label={corrects ? "Correct an event" : "Hand it over"}
      onSubmit={(event) => {
        event.preventDefault();
        save.mutate();
      }}
    >
      <h4>{corrects ? "Correct an event" : "Hand it over"}</h4>
      <div className={recordStyles.fields}>
        {corrects && <p className="quiet">The event as it was entered stays in the history.</p>}
        <Select
          label="What happened"
          data={custodyKinds.map((word) => ({ value: word.value, label: word.word }))}
          value={kind}
          allowDeselect={false}
          onChange={(value) => value && setKind(value as Kind)}
        />
        <TextInput
          label="When"
          type="datetime-local"
          required
          value={at}
          onChange={(event) => setAt(event.currentTarget.value)}
        />
        {handsOver && (
          <>
            <TextInput
              label="From"
              value={from}
              onChange={(event) => setFrom(event.currentTarget.value)}
            />
            <TextInput
              label="To"
              required
              value={to}
              onChange={(event) => setTo(event.currentTarget.value)}
            />
          </>
        )}
        <TextInput
          label="Where it is now"
          description={
            custody.place ? `Leave it empty if it stays where it is: ${custody.place}.` : undefined
          }
          required={kind === "moved"}
          value={place}
          onChange={(event) => setPlace(event.currentTarget.value)}
        />
        <Textarea
          label="How it looks"
          autosize
          required={kind === "dropped" || kind === "repaired"}
          value={condition}
          onChange={(event) => setCondition(event.currentTarget.value)}
        />
        <TextInput
          label="Number of the seal"
          value={seal}
          onChange={(event) => setSeal(event.currentTarget.value)}
        />
        {handsOver && (
          <TextInput
            label="The receiver signs with their name"
            required
            autoComplete="off"
            value={signature}
            onChange={(event) => setSignature(event.currentTarget.value)}
          />
        )}
      </div>
      <ErrorNote error={save.error} saving />
      <div className={recordStyles.buttons}>
        <Button type="submit" loading={save.isPending}>
          {corrects ? "Enter the correction" : "Enter it"}
        </Button>
        <Button variant="default" onClick={done}>
          Cancel
        </Button>
      </div>
    </form>
  );
}
