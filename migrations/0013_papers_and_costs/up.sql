-- What the papers and the budget add: answers to the insurer's checklist, costs of licences, budgets.

-- A person's answer to a point of the insurer's checklist; the points themselves are the program's.
create table checklist_answers (
    episode_id uuid not null references episodes on delete cascade,
    item text not null check (length(item) between 1 and 60),
    series_id uuid not null references series on delete cascade,
    answer text not null check (answer in ('yes', 'no', 'not_applicable', 'open')),
    note text not null,
    answered_by text not null,
    version integer not null,
    updated_at timestamptz not null,
    primary key (episode_id, item)
);
create index checklist_answers_series on checklist_answers (series_id);

-- Money of a licence, for one episode or for the series as a whole. Amounts are in the currency's smallest unit and
-- never added across currencies.
create table costs (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    licence_id uuid not null references licences on delete restrict,
    episode_id uuid references episodes on delete restrict,
    currency text not null check (currency ~ '^[A-Z]{3}$'),
    quoted_minor bigint check (quoted_minor >= 0),
    agreed_minor bigint check (agreed_minor >= 0),
    paid_minor bigint check (paid_minor >= 0),
    paid_on date,
    -- equal terms: no less than the best paid of those it is measured against
    most_favoured boolean not null,
    -- prices agreed for more: what, amount, until when it can be taken, whether it was
    step_ups jsonb not null,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index costs_series on costs (series_id);
create index costs_licence on costs (licence_id);
create index costs_episode on costs (episode_id);

create table budgets (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    -- none: the series as a whole
    episode_id uuid references episodes on delete restrict,
    title text not null check (length(title) between 1 and 200),
    currency text not null check (currency ~ '^[A-Z]{3}$'),
    amount_minor bigint not null check (amount_minor >= 0),
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index budgets_series on budgets (series_id);
create index budgets_episode on budgets (episode_id);
