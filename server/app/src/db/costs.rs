//! Money: what a licence was quoted, agreed and paid at for an episode, and the budgets that it is held against.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Jsonb, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::costs::currency_fault;
use waybill_domain::music::shares::Party;
use waybill_domain::rights::licence_terms::LicenceTerms;

use super::record::{Fields, Reference};
use super::{Conn, Json};
use crate::error::FieldError;
use crate::ops::check;
use crate::record_table;

/// A price that was agreed for more: territories, media, years.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StepUp {
    /// What it buys.
    pub what: String,
    pub amount_minor: i64,
    /// Last day on which it can be taken.
    #[serde(default)]
    #[schema(required)]
    pub until: Option<NaiveDate>,
    /// It was taken, so it is owed.
    #[serde(default)]
    pub taken: bool,
}

/// Money of a licence. Amounts are in the currency's smallest unit.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::costs, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct CostFields {
    pub licence_id: Uuid,
    /// Null: the series as a whole.
    #[schema(required)]
    pub episode_id: Option<Uuid>,
    /// Three letters (ISO 4217).
    pub currency: String,
    #[schema(required)]
    pub quoted_minor: Option<i64>,
    #[schema(required)]
    pub agreed_minor: Option<i64>,
    #[schema(required)]
    pub paid_minor: Option<i64>,
    #[schema(required)]
    pub paid_on: Option<NaiveDate>,
    /// Was promised no less than the best paid of the same work.
    #[serde(default)]
    pub most_favoured: bool,
    #[serde(default)]
    #[schema(value_type = Vec<StepUp>)]
    pub step_ups: Json<Vec<StepUp>>,
    #[serde(default)]
    pub notes: String,
}

fn currency(faults: &mut Vec<FieldError>, value: &str) {
    faults.extend(currency_fault(value).map(|words| FieldError::new("/currency", words)));
}

/// Most that is believed: a thousand million in whole units.
const MOST: i64 = 100_000_000_000;

impl Fields for CostFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        currency(&mut faults, &self.currency);
        for (pointer, value) in [
            ("/quoted_minor", self.quoted_minor),
            ("/agreed_minor", self.agreed_minor),
            ("/paid_minor", self.paid_minor),
        ] {
            check::within(&mut faults, pointer, value.unwrap_or(0), 0, MOST);
        }
        if [self.quoted_minor, self.agreed_minor, self.paid_minor]
            .iter()
            .all(Option::is_none)
        {
            faults.push(FieldError::new(
                "/quoted_minor",
                "Enter what was quoted, agreed or paid.",
            ));
        }
        check::day(&mut faults, "/paid_on", self.paid_on);
        if self.paid_on.is_some() && self.paid_minor.is_none() {
            faults.push(FieldError::new("/paid_minor", "Enter how much was paid."));
        }
        if self.step_ups.0.len() > 50 {
            faults.push(FieldError::new("/step_ups", "At most 50 fit here."));
        }
        for (at, step) in self.step_ups.0.iter().take(50).enumerate() {
            let base = format!("/step_ups/{at}");
            check::required(&mut faults, &format!("{base}/what"), &step.what, 500);
            check::within(
                &mut faults,
                &format!("{base}/amount_minor"),
                step.amount_minor,
                0,
                MOST,
            );
            check::day(&mut faults, &format!("{base}/until"), step.until);
        }
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        faults
    }

    fn references(&self) -> Vec<Reference> {
        [
            Reference::maybe("/licence_id", "licences", Some(self.licence_id)),
            Reference::maybe("/episode_id", "episodes", self.episode_id),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

record_table! {
    /// Money of a licence.
    pub struct Cost { fields: CostFields }
    table: costs, kind: "cost", name: "The cost",
    search: [notes],
    used_by: &[],
}

/// What may be spent.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::budgets, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct BudgetFields {
    /// Null: the series as a whole.
    #[schema(required)]
    pub episode_id: Option<Uuid>,
    pub title: String,
    /// Three letters (ISO 4217).
    pub currency: String,
    pub amount_minor: i64,
    #[serde(default)]
    pub notes: String,
}

impl Fields for BudgetFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/title", &self.title, 200);
        currency(&mut faults, &self.currency);
        check::within(&mut faults, "/amount_minor", self.amount_minor, 0, MOST);
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        faults
    }

    fn references(&self) -> Vec<Reference> {
        Reference::maybe("/episode_id", "episodes", self.episode_id)
            .into_iter()
            .collect()
    }
}

record_table! {
    /// A budget.
    pub struct Budget { fields: BudgetFields }
    table: budgets, kind: "budget", name: "The budget",
    search: [title, notes],
    used_by: &[],
}

/// A licence as far as its money goes.
#[derive(Clone, Debug, QueryableByName)]
pub struct LicenceMoney {
    #[diesel(sql_type = SqlUuid)]
    pub id: Uuid,
    #[diesel(sql_type = Text)]
    pub licensor: String,
    #[diesel(sql_type = Text)]
    pub side: String,
    /// Signed, with a fee that was agreed.
    #[diesel(sql_type = Bool)]
    pub signed: bool,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub music_id: Option<Uuid>,
    /// Title of the import or the piece of music.
    #[diesel(sql_type = Text)]
    pub subject: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    pub asset_id: Option<Uuid>,
    /// Parties to the piece of music: those of the work, for a recording its own.
    #[diesel(sql_type = Jsonb)]
    pub parties: Json<Vec<Party>>,
    /// Writers and publishers together are 100 %.
    #[diesel(sql_type = Bool)]
    pub together: bool,
    /// What the licence says of most-favoured terms and minimum billing.
    #[diesel(sql_type = Jsonb)]
    pub terms: Json<LicenceTerms>,
    #[diesel(sql_type = Nullable<BigInt>)]
    pub fee_minor: Option<i64>,
    #[diesel(sql_type = Text)]
    pub currency: String,
}

/// Live licences of a series that were not replaced, with what they are about.
///
/// # Errors
/// The database's, as everywhere in this file.
pub async fn licences(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<LicenceMoney>> {
    diesel::sql_query(
        "select l.id, l.licensor, l.side, l.status in ('signed', 'paid') as signed, l.music_id, l.asset_id, l.terms, \
           coalesce(a.title, m.title, '') as subject, l.fee_minor, l.currency, \
           coalesce(case when l.side = 'recording' then m.parties else coalesce(w.parties, m.parties) end, '[]'::jsonb) \
             as parties, \
           coalesce(w.share_convention, m.share_convention, '') = 'together' as together \
         from licences l left join assets a on a.id = l.asset_id left join music m on m.id = l.music_id \
           left join music w on w.id = m.same_work_id \
         where l.series_id = $1 and l.deleted_at is null and l.status <> 'replaced' order by l.id",
    )
    .bind::<SqlUuid, _>(series)
    .load(conn)
    .await
}

/// Live costs of a series.
pub async fn costs(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<Cost>> {
    use super::schema::costs;
    costs::table
        .filter(costs::series_id.eq(series))
        .filter(costs::deleted_at.is_null())
        .order(costs::id)
        .select(Cost::as_select())
        .load(conn)
        .await
}

/// Live budgets of a series.
pub async fn budgets(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<Budget>> {
    use super::schema::budgets;
    budgets::table
        .filter(budgets::series_id.eq(series))
        .filter(budgets::deleted_at.is_null())
        .order(budgets::id)
        .select(Budget::as_select())
        .load(conn)
        .await
}

/// Live episodes of a series: id, number, title.
pub async fn episodes(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<(Uuid, i32, String)>> {
    use super::schema::episodes;
    episodes::table
        .filter(episodes::series_id.eq(series))
        .filter(episodes::deleted_at.is_null())
        .order(episodes::number)
        .select((episodes::id, episodes::number, episodes::title))
        .load(conn)
        .await
}
