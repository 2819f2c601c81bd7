// Tokens for the waybill command on a device. A token's text is shown once, when it is made.
import { Button, Group, TextInput } from "@mantine/core";
import { useMutation, useQuery, useQueryClient } from "@tanstack/react-query";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { ErrorNote } from "../../ui/Notes";
import { showDate, showInstant } from "../../words/dates";
import styles from "./Account.module.css";

export function DeviceTokens() {
  const queries = useQueryClient();
  const [label, setLabel] = useState("");
  const list = useQuery({
    queryKey: ["device-tokens"],
    queryFn: ({ signal }) => answered(api.GET("/api/me/device-tokens", { signal })),
  });
  const refresh = () => queries.invalidateQueries({ queryKey: ["device-tokens"] });
  const make = useMutation({
    mutationFn: () => answered(api.POST("/api/me/device-tokens", { body: { label } })),
    onSuccess: async () => {
      setLabel("");
      await refresh();
    },
  });
  const end = useMutation({
    mutationFn: (id: string) =>
      answered(api.DELETE("/api/me/device-tokens/{id}", { params: { path: { id } } })),
    onSuccess: refresh,
  });
  return (
    <section>
      <h2>Device tokens</h2>
      <p className="quiet">
        The waybill command scans drives and sends cuts from a computer without a browser. Give each
        computer its own token, so that one can be ended alone.
      </p>
      {make.data?.token && (
        <div role="alert">
          <p>Copy this token now. It is not shown again.</p>
          <code className={styles.token}>{make.data.token}</code>
          <Button
            variant="default"
            size="xs"
            onClick={() => navigator.clipboard?.writeText(make.data?.token ?? "")}
          >
            Copy
          </Button>
        </div>
      )}
      <ErrorNote error={list.error ?? make.error ?? end.error} />
      <ul className={styles.rows}>
        {list.data?.items.map((token) => (
          <li key={token.id}>
            <div>
              {token.label}
              <br />
              <span className="quiet small">
                until {showDate(token.expires_at)},{" "}
                {token.last_used_at ? `last used ${showInstant(token.last_used_at)}` : "never used"}
              </span>
            </div>
            <Button
              variant="default"
              size="compact-sm"
              onClick={() => end.mutate(token.id)}
              aria-label={`End the token ${token.label}`}
            >
              End
            </Button>
          </li>
        ))}
      </ul>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          make.mutate();
        }}
      >
        <Group align="flex-end" mt="sm">
          <TextInput
            label="Name of the device"
            required
            maxLength={100}
            value={label}
            onChange={(event) => setLabel(event.currentTarget.value)}
          />
          <Button type="submit" variant="default" loading={make.isPending}>
            Make a token
          </Button>
        </Group>
      </form>
    </section>
  );
}
