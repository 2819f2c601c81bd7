-- Organisations, people who sign in, their sessions, and the series they work on.

create table organisations (
    id uuid primary key,
    name text not null check (length(name) between 1 and 200),
    created_at timestamptz not null
);

create table users (
    id uuid primary key,
    organisation_id uuid not null references organisations on delete cascade,
    email text not null check (length(email) between 3 and 254),
    name text not null check (length(name) between 1 and 200),
    password_hash text not null,
    is_admin boolean not null,
    disabled_at timestamptz,
    -- each: a mail per reminder; digest: one a day; none
    mail_choice text not null check (mail_choice in ('each', 'digest', 'none')),
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null
);
create index users_organisation on users (organisation_id);
create unique index users_email on users (lower(email));

-- A browser's sign-in. Only the hash of the cookie's token is kept.
create table sessions (
    id uuid primary key,
    user_id uuid not null references users on delete cascade,
    token_hash bytea not null unique,
    created_at timestamptz not null,
    last_seen_at timestamptz not null,
    expires_at timestamptz not null,
    ended_at timestamptz,
    agent text not null,
    address text not null
);
create index sessions_user on sessions (user_id);

-- What leaves the browser: the token is signed, the row lets it be withdrawn.
create table device_tokens (
    id uuid primary key,
    user_id uuid not null references users on delete cascade,
    label text not null check (length(label) between 1 and 100),
    created_at timestamptz not null,
    expires_at timestamptz not null,
    last_used_at timestamptz,
    ended_at timestamptz
);
create index device_tokens_user on device_tokens (user_id);

create table password_resets (
    id uuid primary key,
    user_id uuid not null references users on delete cascade,
    token_hash bytea not null unique,
    created_at timestamptz not null,
    expires_at timestamptz not null,
    used_at timestamptz
);
create index password_resets_user on password_resets (user_id);

-- How guessing is slowed: failures in a row per account and per address.
create table sign_in_failures (
    subject text primary key,
    failures integer not null,
    next_try_at timestamptz not null
);

-- Keys that the server makes for itself (token signing) and single facts (the set-up link).
create table server_facts (
    name text primary key,
    value bytea not null,
    created_at timestamptz not null
);

create table series (
    id uuid primary key,
    organisation_id uuid not null references organisations on delete cascade,
    title text not null check (length(title) between 1 and 200),
    producer_entity text not null check (length(producer_entity) <= 200),
    zone text not null,
    roll_pattern text not null check (length(roll_pattern) between 1 and 200),
    frame_rate text not null,
    adult_at integer not null check (adult_at between 14 and 21),
    consideration_required boolean not null,
    holidays date[] not null,
    shoot_from date,
    shoot_to date,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz,
    check (shoot_to >= shoot_from)
);
create index series_organisation on series (organisation_id);

create table memberships (
    series_id uuid not null references series on delete cascade,
    user_id uuid not null references users on delete cascade,
    roles text[] not null,
    created_at timestamptz not null,
    primary key (series_id, user_id)
);
create index memberships_user on memberships (user_id);

create table invitations (
    id uuid primary key,
    organisation_id uuid not null references organisations on delete cascade,
    series_id uuid references series on delete cascade,
    email text not null,
    roles text[] not null,
    invited_by uuid references users on delete set null,
    created_at timestamptz not null,
    expires_at timestamptz not null,
    accepted_at timestamptz,
    ended_at timestamptz
);
create index invitations_organisation on invitations (organisation_id);
create index invitations_series on invitations (series_id);
create index invitations_invited_by on invitations (invited_by);

-- Who changed what, when, before and after. Rows are only ever added.
create table audit (
    id bigint generated always as identity primary key,
    at timestamptz not null,
    organisation_id uuid not null,
    series_id uuid,
    actor_id uuid,
    actor_name text not null,
    action text not null,
    subject_kind text not null,
    subject_id uuid,
    before jsonb,
    after jsonb,
    request_id uuid
);
create index audit_subject on audit (subject_id, id desc);
create index audit_series on audit (series_id, id desc);
create index audit_organisation on audit (organisation_id, id desc);

create function refuse_audit_change() returns trigger language plpgsql as $$
begin
    raise exception 'the audit trail is only ever added to';
end $$;
create trigger audit_is_append_only before update or delete or truncate on audit
    for each statement execute function refuse_audit_change();
