// My account: name and mail choice, appearance and keys, password, sign-ins, device tokens.
import {
  Button,
  Radio,
  SegmentedControl,
  Stack,
  Switch,
  TextInput,
  useMantineColorScheme,
} from "@mantine/core";
import { useMutation, useQueryClient } from "@tanstack/react-query";
import { Link, useNavigate } from "@tanstack/react-router";
import { useState } from "react";
import { answered, api } from "../../api/client";
import { useMe } from "../../api/session";
import type { MailChoice } from "../../api/types";
import { switchKeys, useKeysAreOn } from "../../app/keys";
import { schemes } from "../../app/scheme";
import { ErrorNote } from "../../ui/Notes";
import { Page } from "../../ui/Page";
import { useToasts } from "../../ui/Toasts";
import { mailChoices } from "../../words/states";
import styles from "./Account.module.css";
import { ChangePassword } from "./ChangePassword";
import { DeviceTokens } from "./DeviceTokens";
import { SignIns } from "./SignIns";

export function Account() {
  const me = useMe();
  const navigate = useNavigate();
  const queries = useQueryClient();
  const signOut = useMutation({
    mutationFn: () => answered(api.POST("/api/sign-out")),
    onSuccess: async () => {
      // First away from the pages that would ask anew who is signed in.
      await navigate({ to: "/sign-in" });
      queries.clear();
    },
  });
  return (
    <Page
      title="My account"
      lead={`${me.user.email}, ${me.organisation}`}
      action={
        <Button variant="default" loading={signOut.isPending} onClick={() => signOut.mutate()}>
          Sign out
        </Button>
      }
    >
      <ErrorNote error={signOut.error} />
      <div className={styles.columns}>
        <div>
          <Self />
          <Appearance />
          {me.user.is_admin && (
            <section>
              <h2>Organisation</h2>
              <p>
                <Link to="/organisation/people">Everybody who can sign in</Link>
                {" · "}
                <Link to="/organisation/mail">Mail waiting and sent</Link>
              </p>
            </section>
          )}
          <ChangePassword />
        </div>
        <div>
          <SignIns />
          <DeviceTokens />
        </div>
      </div>
    </Page>
  );
}

function Self() {
  const me = useMe();
  const queries = useQueryClient();
  const toasts = useToasts();
  const [name, setName] = useState(me.user.name);
  const [mail, setMail] = useState<MailChoice>(me.user.mail_choice);
  const save = useMutation({
    mutationFn: () => answered(api.PUT("/api/me", { body: { name, mail_choice: mail } })),
    onSuccess: async () => {
      await queries.invalidateQueries({ queryKey: ["me"] });
      toasts.say("Saved.");
    },
  });
  return (
    <section>
      <h2>Name and mail</h2>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          save.mutate();
        }}
      >
        <Stack gap="sm">
          <TextInput
            label="Name"
            autoComplete="name"
            required
            maxLength={200}
            value={name}
            onChange={(event) => setName(event.currentTarget.value)}
          />
          <Radio.Group
            label="Mail: reminders of deadlines and licence ends"
            description="Whoever takes deliveries for a broadcaster is told of each thing that is issued, unless they choose no mail."
            value={mail}
            onChange={(value) => setMail(value as MailChoice)}
          >
            <Stack gap={4} mt={4}>
              {mailChoices.map((choice) => (
                <Radio key={choice.value} value={choice.value} label={choice.word} />
              ))}
            </Stack>
          </Radio.Group>
          <ErrorNote error={save.error} saving />
          <div>
            <Button type="submit" loading={save.isPending}>
              Save
            </Button>
          </div>
        </Stack>
      </form>
    </section>
  );
}

function Appearance() {
  const { colorScheme, setColorScheme } = useMantineColorScheme();
  const keys = useKeysAreOn();
  return (
    <section>
      <h2>On this device</h2>
      <Stack gap="sm" align="flex-start">
        <SegmentedControl
          aria-label="Light or dark"
          data={[...schemes]}
          value={colorScheme}
          onChange={(value) => setColorScheme(value as "auto" | "light" | "dark")}
        />
        <Switch
          checked={keys}
          onChange={(event) => switchKeys(event.currentTarget.checked)}
          label="Single-letter keys"
          description="/ finds, e edits, ? lists the keys"
        />
      </Stack>
    </section>
  );
}
