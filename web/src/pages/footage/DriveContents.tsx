// What a drive holds, and whether it may be another drive under a second label.
import { Button } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { answered, api } from "../../api/client";
import { useMay } from "../../app/may";
import { useSeriesId } from "../../app/series";
import { ErrorNote, Waiting } from "../../ui/Notes";
import recordStyles from "../../ui/record/record.module.css";
import { Stated } from "../../ui/State";
import { useToasts } from "../../ui/Toasts";
import { wholeWords } from "../../words/amounts";
import { showBytes, showInstant } from "../../words/dates";
import { andList } from "../../words/lists";

export function DriveContents({ drive, label }: { drive: string; label: string }) {
  const series = useSeriesId();
  const { data, error, refetch } = useQuery({
    queryKey: ["series", series, "drives", "contents", drive],
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/drives/{id}/contents", {
          params: { path: { series, id: drive } },
          signal,
        }),
      ),
  });
  if (error) return <ErrorNote error={error} retry={() => refetch()} />;
  if (!data) return <Waiting what="what is on it" />;
  const facts: [string, string][] = [
    ["Verified copies", `${wholeWords(data.files)}, ${showBytes(data.bytes)}`],
    ["Cards", wholeWords(data.cards)],
    ["Last read", showInstant(data.checked_at) || "never"],
  ];
  if (data.free_seen_at) facts.push(["Free room seen", showInstant(data.free_seen_at)]);
  return (
    <section>
      <h3>What is on it</h3>
      <dl className={recordStyles.facts}>
        {facts.map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      {data.only_copies > 0 && (
        <p>
          <Stated pattern="gap">
            {data.only_copies === 1
              ? "1 file has its only verified copy here."
              : `${wholeWords(data.only_copies)} files have their only verified copy here.`}
          </Stated>
        </p>
      )}
      {data.lost > 0 && (
        <p>
          <Stated pattern="gap">
            {data.lost === 1 ? "1 copy was" : `${wholeWords(data.lost)} copies were`} found changed,
            missing or unreadable here.
          </Stated>
        </p>
      )}
      {data.beside.length > 0 && (
        <p>
          <Stated pattern="restricted">
            {label} lies on the same device as {andList(data.beside)}: what hits one hits all, so
            together they are one copy.
          </Stated>
        </p>
      )}
      {data.held_back.map((words) => (
        <p key={words}>
          <Stated pattern="gap">{words}</Stated>
        </p>
      ))}
      {data.checked_at && !data.device_known && (
        <p className="quiet small">
          Which device {label} is could not be told when it was read, as with a drive in a network.
          If another label lies on the same device, the two are one copy, and only you can know.
        </p>
      )}
      {data.may_be && !data.beside.includes(data.may_be) && (
        <MayBe drive={drive} label={label} other={data.may_be} />
      )}
    </section>
  );
}

function MayBe({ drive, label, other }: { drive: string; label: string; other: string }) {
  const series = useSeriesId();
  const may = useMay("edit_footage");
  const queries = useQueryClient();
  const toasts = useToasts();
  const separate = useMutation({
    mutationFn: () =>
      answered(
        api.POST("/api/series/{series}/drives/{id}/separate", {
          params: { path: { series, id: drive } },
        }),
      ),
    onSuccess: async () => {
      toasts.say(`${label} and ${other} count as two drives now.`);
      await queries.invalidateQueries({ queryKey: ["series", series] });
    },
  });
  return (
    <>
      <p>
        <Stated pattern="unknown">
          It may be {other} under a second label: everything lies at the same places with the same
          times. Until somebody says that they are two, they count as one copy.
        </Stated>
      </p>
      {may && (
        <p className="no-print">
          <Button variant="default" loading={separate.isPending} onClick={() => separate.mutate()}>
            They are two drives; both were in my hands
          </Button>
        </p>
      )}
      <ErrorNote error={separate.error} saving />
    </>
  );
}
