// Searches that are kept under a name: one's own, and those that somebody shared with the series.
import { Button, Checkbox, Menu, TextInput } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api, onVersion, post } from "../../api/client";
import { usePageSearch, useSeriesId } from "../../app/series";
import { ErrorNote } from "../../ui/Notes";
import { useGo } from "../../ui/record/RecordsPage";
import { useToasts } from "../../ui/Toasts";
import { searchOf, textOf } from "./finding";
import styles from "./footage.module.css";

export function SavedSearches() {
  const series = useSeriesId();
  const search = usePageSearch();
  const go = useGo();
  const queries = useQueryClient();
  const toasts = useToasts();
  const [naming, setNaming] = useState(false);
  const key = ["series", series, "saved-searches"];
  const kept = useQuery({
    queryKey: key,
    queryFn: ({ signal }) =>
      answered(
        api.GET("/api/series/{series}/saved-searches", { params: { path: { series } }, signal }),
      ),
  });
  const refresh = () => queries.invalidateQueries({ queryKey: key });
  const forget = useMutation({
    mutationFn: async (one: NonNullable<typeof kept.data>["items"][number]) => {
      await answered(
        api.DELETE("/api/series/{series}/saved-searches/{id}", {
          params: { path: { series, id: one.id }, header: onVersion(one.version) },
        }),
      );
      return one;
    },
    onSuccess: async ({ id, name }) => {
      await refresh();
      toasts.offerUndo(`“${name}” is forgotten.`, async () => {
        await post(`/api/series/${series}/saved-searches/${id}/restore`);
        await refresh();
      });
    },
    onError: async (error) => {
      await refresh();
      toasts.say(`It was not forgotten: ${error.message}`);
    },
  });
  const items = kept.data?.items ?? [];
  const here = textOf(search);
  const current = items.find(({ query }) => query === here);
  return (
    <>
      <Menu position="bottom-start">
        <Menu.Target>
          <Button variant="default">Kept searches</Button>
        </Menu.Target>
        <Menu.Dropdown>
          {items.length === 0 && <Menu.Label>None yet: find something, then keep it.</Menu.Label>}
          {items.map((one) => (
            <Menu.Item key={one.id} onClick={() => go(searchOf(one.query))}>
              {one.name}
              {one.shared && <span className="quiet">, shared</span>}
            </Menu.Item>
          ))}
        </Menu.Dropdown>
      </Menu>
      {here !== "" && !current && !naming && (
        <Button variant="default" onClick={() => setNaming(true)}>
          Keep this search
        </Button>
      )}
      {current && (
        <Button variant="default" loading={forget.isPending} onClick={() => forget.mutate(current)}>
          Forget “{current.name}”
        </Button>
      )}
      {naming && (
        <Keep
          query={here}
          onDone={async () => {
            setNaming(false);
            await refresh();
          }}
        />
      )}
    </>
  );
}

function Keep({ query, onDone }: { query: string; onDone: () => void }) {
  const series = useSeriesId();
  const [name, setName] = useState("");
  const [shared, setShared] = useState(false);
  const keep = useMutation({
    mutationFn: () =>
      answered(
        api.POST("/api/series/{series}/saved-searches", {
          params: { path: { series } },
          body: { name: name.trim(), query, shared },
        }),
      ),
    onSuccess: onDone,
  });
  return (
    <form
      className={styles.keep}
      aria-label="Keep this search"
      onSubmit={(event) => {
        event.preventDefault();
        keep.mutate();
      }}
    >
      <TextInput
        aria-label="Name of the search"
        placeholder="Name"
        required
        maxLength={100}
        value={name}
        onChange={(event) => setName(event.currentTarget.value)}
      />
      <Checkbox
        label="Share with the series"
        checked={shared}
        onChange={(event) => setShared(event.currentTarget.checked)}
      />
      <Button type="submit" loading={keep.isPending}>
        Keep
      </Button>
      <Button variant="default" onClick={onDone}>
        Leave it
      </Button>
      <ErrorNote error={keep.error} saving />
    </form>
  );
}
