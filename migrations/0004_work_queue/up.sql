-- The queue of background work, the outbox of mails, and the reminders that fill them.

create table jobs (
    id uuid primary key,
    kind text not null,
    payload jsonb not null,
    -- what this job is about; two live jobs never share it
    dedupe_key text,
    run_at timestamptz not null,
    attempts integer not null,
    locked_until timestamptz,
    claim uuid,
    last_error text,
    dead_at timestamptz,
    created_at timestamptz not null
);
create index jobs_due on jobs (run_at) where dead_at is null;
create unique index jobs_dedupe on jobs (dedupe_key);

create table mails (
    id uuid primary key,
    organisation_id uuid not null references organisations on delete cascade,
    user_id uuid references users on delete set null,
    kind text not null check (kind in ('invitation', 'password_reset', 'reminder', 'digest', 'notice')),
    recipient text not null,
    subject text not null,
    body_text text not null,
    body_html text not null,
    message_id text not null unique,
    state text not null check (state in ('due', 'sent', 'failed', 'useless')),
    useless_after timestamptz,
    last_answer text,
    created_at timestamptz not null,
    sent_at timestamptz
);
create index mails_organisation on mails (organisation_id, created_at);
create index mails_user on mails (user_id);

-- One row per subject, threshold and date: the natural key that makes a second tick harmless.
create table reminders (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    subject_kind text not null check (subject_kind in ('deliverable', 'licence', 'release', 'drive')),
    subject_id uuid not null,
    -- which of the subject's dates (due, end of grant 2 …)
    aspect text not null,
    due_on date not null,
    -- days before the date; negative: days overdue
    days_before integer not null,
    fire_at timestamptz not null,
    dedupe_key text not null unique,
    fired_at timestamptz,
    resolved_at timestamptz,
    acknowledged_by uuid references users on delete set null,
    acknowledged_at timestamptz,
    created_at timestamptz not null
);
create index reminders_series on reminders (series_id);
create index reminders_subject on reminders (subject_id);
create index reminders_acknowledged_by on reminders (acknowledged_by);
create index reminders_due on reminders (fire_at) where fired_at is null and resolved_at is null;

-- What each person was or will be told; waits here for the daily digest where that was chosen.
create table reminder_notices (
    reminder_id uuid not null references reminders on delete cascade,
    user_id uuid not null references users on delete cascade,
    mail_id uuid references mails on delete set null,
    created_at timestamptz not null,
    primary key (reminder_id, user_id)
);
create index reminder_notices_user on reminder_notices (user_id);
create index reminder_notices_mail on reminder_notices (mail_id);
