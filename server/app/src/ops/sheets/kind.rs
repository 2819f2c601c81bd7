//! A kind of list and its kind of record: who may, and the few things that differ from type to type. All else works
//! on the record's JSON, which is the same for all.

use std::collections::HashMap;

use chrono::NaiveDate;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};
use uuid::Uuid;
use waybill_domain::perms::Action;
use waybill_domain::sheet::{Holds, SheetKind};

use crate::db::Conn;
use crate::db::record::{Fields, Record};
use crate::error::{FieldError, OpError};
use crate::ops::access::Access;
use crate::ops::records::{self, Rights};

/// Calls a generic function with the record type of a kind.
macro_rules! of_kind {
    ($kind:expr, $function:ident($($argument:expr),* $(,)?) $(. $await:ident)?) => {
        match $kind {
            SheetKind::People => $function::<crate::db::people::Person>($($argument),*)$(.$await)?,
            SheetKind::Places => $function::<crate::db::places::Place>($($argument),*)$(.$await)?,
            SheetKind::ShootDays => $function::<crate::db::shoot_days::ShootDay>($($argument),*)$(.$await)?,
            SheetKind::Releases => $function::<crate::db::releases::Release>($($argument),*)$(.$await)?,
            SheetKind::Assets => $function::<crate::db::assets::Asset>($($argument),*)$(.$await)?,
            SheetKind::Music => $function::<crate::db::music::Music>($($argument),*)$(.$await)?,
            SheetKind::Licences => $function::<crate::db::licences::Licence>($($argument),*)$(.$await)?,
            SheetKind::Drives => $function::<crate::db::drives::Drive>($($argument),*)$(.$await)?,
            SheetKind::Deliverables => $function::<crate::db::deliverables::Deliverable>($($argument),*)$(.$await)?,
        }
    };
}

pub(super) use of_kind;

/// Who may see and who may change the records of a kind: as with the record's own routes.
pub fn rights(kind: SheetKind) -> Rights {
    let (view, edit) = match kind {
        SheetKind::People | SheetKind::Places => (Action::ViewPeople, Action::EditPeople),
        SheetKind::ShootDays => (Action::ViewSeries, Action::EditSchedule),
        SheetKind::Releases => (Action::ViewReleases, Action::EditReleases),
        SheetKind::Assets | SheetKind::Music => (Action::ViewCuts, Action::EditAssets),
        SheetKind::Licences => (Action::ViewLicences, Action::EditLicences),
        SheetKind::Drives => (Action::ViewFootage, Action::EditFootage),
        SheetKind::Deliverables => (Action::ViewDeliveries, Action::EditDeliverables),
    };
    Rights { view, edit }
}

/// The word of a kind, in the database and in file names.
pub fn word(kind: SheetKind) -> &'static str {
    match kind {
        SheetKind::People => "people",
        SheetKind::Places => "places",
        SheetKind::ShootDays => "shoot_days",
        SheetKind::Releases => "releases",
        SheetKind::Assets => "assets",
        SheetKind::Music => "music",
        SheetKind::Licences => "licences",
        SheetKind::Drives => "drives",
        SheetKind::Deliverables => "deliverables",
    }
}

pub(super) fn of_word(text: &str) -> Result<SheetKind, OpError> {
    SheetKind::ALL
        .into_iter()
        .find(|kind| word(*kind) == text)
        .ok_or_else(|| OpError::Internal(format!("`{text}` is not a kind of list")))
}

/// The word of the kind of record, in the audit trail.
pub(super) fn record_kind(kind: SheetKind) -> &'static str {
    fn of<R: Record>() -> &'static str {
        R::KIND
    }
    of_kind!(kind, of())
}

/// A record as lists see it.
#[derive(Clone, Debug)]
pub struct Item {
    pub id: Uuid,
    pub version: i32,
    /// All its fields.
    pub whole: Map<String, Value>,
    /// Its fields without what the person may not see.
    pub seen: Map<String, Value>,
}

fn object<T: serde::Serialize>(value: &T) -> Result<Map<String, Value>, OpError> {
    match serde_json::to_value(value) {
        Ok(Value::Object(map)) => Ok(map),
        Ok(_) => Err(OpError::Internal("a record is no object".into())),
        Err(error) => Err(OpError::Internal(format!("record: {error}"))),
    }
}

fn item<R: Record>(access: &Access, record: &R) -> Result<Item, OpError> {
    let mut seen = record.fields().clone();
    seen.hide(access);
    Ok(Item {
        id: record.id(),
        version: record.version(),
        whole: object(record.fields())?,
        seen: object(&seen)?,
    })
}

/// All live records of a kind.
pub(super) async fn all(
    conn: &mut Conn,
    access: &Access,
    kind: SheetKind,
) -> Result<Vec<Item>, OpError> {
    async fn of<R: Record>(conn: &mut Conn, access: &Access) -> Result<Vec<Item>, OpError> {
        let mut out: Vec<Item> = Vec::new();
        loop {
            let after = out.last().map(|item| item.id);
            let some = R::list(conn, access.series.id, None, after, 500).await?;
            let last = some.len() < 500;
            for record in &some {
                out.push(item(access, record)?);
            }
            if last {
                return Ok(out);
            }
        }
    }
    of_kind!(kind, of(conn, access).await)
}

/// Records by id, from the bin too, locked until the transaction ends; and whether each lies in the bin.
pub(super) async fn locked(
    conn: &mut Conn,
    access: &Access,
    kind: SheetKind,
    ids: &[Uuid],
) -> Result<HashMap<Uuid, (Item, bool)>, OpError> {
    async fn of<R: Record>(
        conn: &mut Conn,
        access: &Access,
        ids: &[Uuid],
    ) -> Result<HashMap<Uuid, (Item, bool)>, OpError> {
        let found = R::lock_all(conn, access.series.id, ids).await?;
        found
            .iter()
            .map(|record| {
                let binned = record.deleted_at().is_some();
                Ok((record.id(), (item(access, record)?, binned)))
            })
            .collect()
    }
    of_kind!(kind, of(conn, access, ids).await)
}

/// A value for each field of a kind.
fn probe(kind: SheetKind) -> Map<String, Value> {
    let mut probe = Map::new();
    for field in kind
        .fields()
        .iter()
        .filter(|field| field.of_grant().is_none())
    {
        let value = match field.holds {
            Holds::Text | Holds::Currency => json!("x"),
            Holds::Texts => json!(["x"]),
            Holds::Day => json!("2000-01-01"),
            Holds::YesNo => json!(true),
            Holds::Choice(choices) => json!(choices.first().map(|one| one.value)),
            Holds::Whole | Holds::Money | Holds::Bytes => json!(1),
            Holds::One(_) => json!(Uuid::nil()),
            Holds::Many(_) => json!([Uuid::nil()]),
            Holds::Restrictions => json!([{ "kind": "other", "words": "x" }]),
            Holds::Parties => json!([{ "name": "x", "role": "composer", "share": 1 }]),
            Holds::Territories | Holds::Media | Holds::Starts | Holds::Term => continue,
        };
        probe.insert(field.key.to_owned(), value);
    }
    probe
}

/// The fields that are hidden from a person, found by hiding a record in which all are filled.
pub(super) fn hidden(access: &Access, kind: SheetKind) -> Result<Vec<&'static str>, OpError> {
    fn of<R: Record>(
        access: &Access,
        probe: Map<String, Value>,
    ) -> Result<Map<String, Value>, OpError>
    where
        R::Fields: DeserializeOwned,
    {
        let mut fields: R::Fields = serde_json::from_value(Value::Object(probe))
            .map_err(|error| OpError::Internal(format!("probe: {error}")))?;
        fields.hide(access);
        object(&fields)
    }
    let probe = probe(kind);
    let seen = of_kind!(kind, of(access, probe.clone()))?;
    let is_hidden = |key: &str| probe.contains_key(key) && seen.get(key) != probe.get(key);
    let fields = kind.fields().iter().map(|field| field.key);
    Ok(fields.filter(|key| is_hidden(key)).collect())
}

/// What the record's own rules say of fields that are to be kept.
pub(super) enum Judged {
    /// All is well: the fields as they would be kept.
    Well(Map<String, Value>),
    Faults(Vec<FieldError>),
}

/// What the rules of a kind say of a row that can't be kept yet, as far as its cells could be read. What a record can't do
/// without is filled in to ask them; what they say of that is the caller's to leave out.
pub(super) fn rules(
    access: &Access,
    kind: SheetKind,
    old: Option<&Item>,
    laid: Map<String, Value>,
    today: NaiveDate,
) -> Result<Vec<FieldError>, OpError> {
    fn of<R: Record>(
        access: &Access,
        kind: SheetKind,
        old: Option<&Item>,
        laid: Map<String, Value>,
        today: NaiveDate,
    ) -> Result<Vec<FieldError>, OpError>
    where
        R::Fields: DeserializeOwned,
    {
        let Some(mut fields) = filled::<R::Fields>(laid, &probe(kind)) else {
            return Ok(vec![]);
        };
        fields.settle();
        let before: Option<R::Fields> =
            old.map(|item| read::<R>(item.whole.clone())).transpose()?;
        if let Some(before) = &before {
            fields.keep_hidden(before, access);
        }
        let mut faults = fields.faults();
        faults.extend(fields.faults_today(before.as_ref(), today));
        Ok(faults)
    }
    of_kind!(kind, of(access, kind, old, laid, today))
}

/// Fields of which some may be missing; None: what is there can't be read.
fn filled<F: DeserializeOwned>(
    mut laid: Map<String, Value>,
    probe: &Map<String, Value>,
) -> Option<F> {
    loop {
        let error = match serde_json::from_value(Value::Object(laid.clone())) {
            Ok(fields) => return Some(fields),
            Err(error) => error.to_string(),
        };
        let name = error.strip_prefix("missing field `")?.split('`').next()?;
        let value = match name {
            "grants" => json!([]),
            name => probe.get(name)?.clone(),
        };
        // a second time over the same field would go on for ever
        if laid.insert(name.to_owned(), value).is_some() {
            return None;
        }
    }
}

/// Puts fields through the rules of their kind. `old`: the record that would be changed; `today`: none where it goes back
/// to what stood there. Where their references lead
/// is asked of all rows together, by [`lost`].
pub(super) async fn judge(
    conn: &mut Conn,
    access: &Access,
    kind: SheetKind,
    old: Option<&Item>,
    laid: Map<String, Value>,
    today: Option<NaiveDate>,
) -> Result<Judged, OpError> {
    async fn of<R: Record>(
        conn: &mut Conn,
        access: &Access,
        old: Option<&Item>,
        laid: Map<String, Value>,
        today: Option<NaiveDate>,
    ) -> Result<Judged, OpError>
    where
        R::Fields: DeserializeOwned,
    {
        let mut fields: R::Fields = match serde_json::from_value(Value::Object(laid)) {
            Ok(fields) => fields,
            Err(error) => {
                let words = format!("The row can't be read as a record: {error}.");
                return Ok(Judged::Faults(vec![FieldError::new("", words)]));
            }
        };
        fields.settle();
        let before: Option<R::Fields> =
            old.map(|item| read::<R>(item.whole.clone())).transpose()?;
        if let Some(before) = &before {
            fields.keep_hidden(before, access);
        }
        if let Err(OpError::NotAllowed(words)) = fields.allowed(before.as_ref(), access) {
            return Ok(Judged::Faults(vec![FieldError::new("", words)]));
        }
        let pair = old.map(|item| item.id).zip(before.as_ref());
        let mut faults = fields.faults();
        if let Some(today) = today {
            faults.extend(fields.faults_today(before.as_ref(), today));
        }
        match R::Fields::gate(conn, access.series.id, pair, &fields).await {
            Ok(()) => {}
            Err(OpError::Invalid(more)) => faults.extend(more),
            Err(OpError::UnsafeState(words) | OpError::Conflict(words)) => {
                faults.push(FieldError::new("", words));
            }
            Err(other) => return Err(other),
        }
        if faults.is_empty() {
            Ok(Judged::Well(object(&fields)?))
        } else {
            Ok(Judged::Faults(faults))
        }
    }
    of_kind!(kind, of(conn, access, old, laid, today).await)
}

/// For each of many records, in their order: the references in its fields that lead nowhere.
pub(super) async fn lost(
    conn: &mut Conn,
    access: &Access,
    kind: SheetKind,
    records: &[&Map<String, Value>],
) -> Result<Vec<Vec<FieldError>>, OpError> {
    async fn of<R: Record>(
        conn: &mut Conn,
        access: &Access,
        records: &[&Map<String, Value>],
    ) -> Result<Vec<Vec<FieldError>>, OpError>
    where
        R::Fields: DeserializeOwned,
    {
        let mut all = Vec::with_capacity(records.len());
        for record in records {
            all.push(read::<R>((*record).clone())?.references());
        }
        records::all_references(conn, access.series.id, all).await
    }
    of_kind!(kind, of(conn, access, records).await)
}

/// The fields without what the person may not see.
pub(super) fn seen(
    access: &Access,
    kind: SheetKind,
    whole: &Map<String, Value>,
) -> Result<Map<String, Value>, OpError> {
    fn of<R: Record>(
        access: &Access,
        whole: &Map<String, Value>,
    ) -> Result<Map<String, Value>, OpError>
    where
        R::Fields: DeserializeOwned,
    {
        let mut fields = read::<R>(whole.clone())?;
        fields.hide(access);
        object(&fields)
    }
    of_kind!(kind, of(access, whole))
}

pub(super) fn read<R: Record>(fields: Map<String, Value>) -> Result<R::Fields, OpError>
where
    R::Fields: DeserializeOwned,
{
    serde_json::from_value(Value::Object(fields))
        .map_err(|error| OpError::Internal(format!("fields: {error}")))
}
