//! The names by which the cells of a list name other records of the series.

use diesel::QueryableByName;
use diesel::sql_types::{Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::sheet::kinds::Named;
use waybill_domain::sheet::value::Names;
use waybill_domain::sheet::{Holds, SheetKind};

use crate::db::{Conn, series, territory_groups};
use crate::error::OpError;
use crate::ops::access::Access;

#[derive(QueryableByName)]
struct NameRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    label: String,
    #[diesel(sql_type = Text)]
    also: String,
}

/// The names that lists of a kind need, those alone that the person may see.
pub(super) async fn load(
    conn: &mut Conn,
    access: &Access,
    kind: SheetKind,
) -> Result<Names, OpError> {
    let mut names = Names::default();
    if kind
        .fields()
        .iter()
        .any(|field| matches!(field.holds, Holds::Territories))
    {
        for group in territory_groups::names(conn, access.series.id).await? {
            names.add_group(&group);
        }
    }
    let mut wanted: Vec<Named> = kind
        .fields()
        .iter()
        .filter_map(|field| match field.holds {
            Holds::One(named) | Holds::Many(named) => Some(named),
            // Beside whom somebody is not to be shown.
            Holds::Restrictions => Some(Named::People),
            _ => None,
        })
        .collect();
    wanted.sort_unstable();
    wanted.dedup();
    for named in wanted {
        // All from the code, never from a request.
        let (columns, table) = match named {
            Named::People if access.may(Action::ViewContacts) => {
                ("credited_name, legal_name", "people")
            }
            Named::People => ("credited_name, ''", "people"),
            Named::Places => ("name, ''", "places"),
            Named::Assets => ("title, ''", "assets"),
            Named::Music => ("title, ''", "music"),
            Named::Episodes => ("number::text, title", "episodes"),
            Named::Specifications => ("name, ''", "specifications"),
            Named::Members => {
                for member in series::members(conn, access.series.id).await? {
                    names.add(named, member.user_id, &member.name, &[&member.email]);
                }
                continue;
            }
        };
        let rows: Vec<NameRow> = diesel::sql_query(format!(
            "select id, a as label, b as also from (select id, {columns} from {table} where series_id = $1 and \
             deleted_at is null) as named (id, a, b)"
        ))
        .bind::<SqlUuid, _>(access.series.id)
        .load(conn)
        .await?;
        for row in rows {
            let numbered = format!("episode {}", row.label);
            let short = format!("ep {}", row.label);
            let also: &[&str] = if named == Named::Episodes {
                &[&row.also, &numbered, &short]
            } else {
                &[&row.also]
            };
            names.add(named, row.id, &row.label, also);
        }
    }
    Ok(names)
}
