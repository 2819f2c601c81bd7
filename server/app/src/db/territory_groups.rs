//! Groups of territories that the team keeps under a name ("Nordic countries"), which stands wherever codes of
//! territories stand.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::rights::coverage::Grant;
use waybill_domain::rights::territory::Groups;

use super::Conn;
use super::record::Fields;
use super::schema::territory_groups;
use crate::error::{FieldError, OpError};
use crate::ops::check;
use crate::record_table;

/// A group.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = territory_groups, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct TerritoryGroupFields {
    /// At least four letters, so that it is no code. It stands in other records, so it stays as it is.
    pub name: String,
    /// ISO 3166-1 codes and M.49 regions.
    pub territories: Vec<String>,
    #[serde(default)]
    pub notes: String,
}

impl Fields for TerritoryGroupFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/name", &self.name, 60);
        let name = self.name.trim();
        if name != self.name || !check::may_be_group(name) {
            faults.push(FieldError::new(
                "/name",
                "A name of 4 to 60 letters, without spaces before or after it.",
            ));
        }
        check::codes(&mut faults, "/territories", &self.territories);
        if self.territories.is_empty() {
            faults.push(FieldError::new(
                "/territories",
                "Name at least one territory.",
            ));
        }
        check::text(&mut faults, "/notes", &self.notes, 5000);
        faults
    }

    async fn gate(
        conn: &mut Conn,
        series: Uuid,
        old: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        if old.is_some_and(|(_, old)| old.name != new.name) {
            return Err(OpError::Invalid(vec![FieldError::new(
                "/name",
                "The name stands in other records. Make a new group, and delete this one when nothing names it.",
            )]));
        }
        let known = names(conn, series).await?;
        let same = |name: &String| name.to_lowercase() == new.name.to_lowercase();
        if old.is_none() && known.iter().any(same) {
            return Err(OpError::Invalid(vec![FieldError::new(
                "/name",
                "There is a group of that name.",
            )]));
        }
        Ok(())
    }
}

record_table! {
    /// A group of territories.
    pub struct TerritoryGroup { fields: TerritoryGroupFields }
    table: territory_groups, kind: "territory_group", name: "The group of territories",
    search: [name, notes],
    used_by: &[
        (
            "(select g.id as group_id, s.deleted_at from territory_groups g join specifications s \
              on s.series_id = g.series_id and g.name = any(s.territories || s.territories_except)) as needs",
            "group_id",
            "delivery specifications",
        ),
        (
            "(select g.id as group_id, l.deleted_at from territory_groups g join licences l \
              on l.series_id = g.series_id and l.grants::text like '%' || to_jsonb(g.name)::text || '%') as licensed",
            "group_id",
            "licences",
        ),
        (
            "(select g.id as group_id, r.deleted_at from territory_groups g join releases r \
              on r.series_id = g.series_id and (r.grants::text || r.restrictions::text) \
                like '%' || to_jsonb(g.name)::text || '%') as released",
            "group_id",
            "releases",
        ),
        (
            "(select g.id as group_id, s.deleted_at from territory_groups g join showings s \
              on s.series_id = g.series_id and g.name = any(s.territories)) as shown",
            "group_id",
            "showings",
        ),
    ],
}

/// The names of the groups of a series.
///
/// # Errors
/// The database's.
pub async fn names(conn: &mut Conn, series: Uuid) -> QueryResult<Vec<String>> {
    territory_groups::table
        .filter(territory_groups::series_id.eq(series))
        .filter(territory_groups::deleted_at.is_null())
        .select(territory_groups::name)
        .load(conn)
        .await
}

/// The groups of a series, as the domain reads them.
///
/// # Errors
/// The database's.
pub async fn groups(conn: &mut Conn, series: Uuid) -> QueryResult<Groups> {
    let rows: Vec<(String, Vec<String>)> = territory_groups::table
        .filter(territory_groups::series_id.eq(series))
        .filter(territory_groups::deleted_at.is_null())
        .select((territory_groups::name, territory_groups::territories))
        .load(conn)
        .await?;
    Ok(rows.into_iter().collect())
}

/// Refuses names that are neither codes nor groups of this series. `lists`: where each list stands, and its codes.
///
/// # Errors
/// `Invalid` with every unknown name; the database's.
pub async fn must_exist(
    conn: &mut Conn,
    series: Uuid,
    lists: Vec<(String, &[String])>,
) -> Result<(), OpError> {
    let named: Vec<(String, &String)> = lists
        .iter()
        .flat_map(|(pointer, codes)| {
            (codes.iter().enumerate())
                .filter(|(_, code)| check::may_be_group(code))
                .map(move |(at, code)| (format!("{pointer}/{at}"), code))
        })
        .collect();
    if named.is_empty() {
        return Ok(());
    }
    let known = names(conn, series).await?;
    let faults: Vec<FieldError> = named
        .into_iter()
        .filter(|(_, name)| !known.contains(name))
        .map(|(pointer, name)| {
            let name: String = name.chars().take(60).collect();
            FieldError::new(
                pointer,
                format!(
                    "“{name}” is not a territory: give an ISO 3166-1 code of two letters such as GB, a UN M.49 region \
                     of three digits such as 150, WORLD, or the name of a group that this series keeps."
                ),
            )
        })
        .collect();
    if faults.is_empty() {
        Ok(())
    } else {
        Err(OpError::Invalid(faults))
    }
}

/// The lists of territories in grants, for [`must_exist`].
pub fn of_grants<'a>(pointer: &str, grants: &'a [Grant]) -> Vec<(String, &'a [String])> {
    let of = |(at, grant): (usize, &'a Grant)| {
        [
            (
                format!("{pointer}/{at}/territories"),
                grant.territories.as_slice(),
            ),
            (
                format!("{pointer}/{at}/territories_except"),
                grant.territories_except.as_slice(),
            ),
        ]
    };
    grants.iter().enumerate().flat_map(of).collect()
}
