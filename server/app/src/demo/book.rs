//! The book of the demonstration: records as JSON, whose `@kind/key` stand for ids, `=today+9d` for days, `$name` for
//! pieces that occur often, and `scan` for the lines of the paper behind a record. What is there already, by what tells records of its kind apart, is left as it is.

use std::collections::BTreeMap;

use anyhow::{Context, Result, anyhow, bail};
use chrono::NaiveDate;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use uuid::Uuid;
use waybill_domain::perms::Action;

use super::days::day;
use super::papers;
use crate::app::App;
use crate::db::record::Record;
use crate::error::OpError;
use crate::ops::access::Actor;
use crate::ops::records::{self, Ask, Rights};

/// The series as it is filled.
pub struct Book<'a> {
    pub app: &'a App,
    pub actor: Actor,
    pub series: Uuid,
    /// The day of loading.
    pub today: NaiveDate,
    ids: BTreeMap<String, Uuid>,
    pieces: Map<String, Value>,
}

impl<'a> Book<'a> {
    /// A book of nothing; `pieces` is a JSON object.
    pub fn new(
        app: &'a App,
        actor: Actor,
        series: Uuid,
        today: NaiveDate,
        pieces: &str,
    ) -> Result<Self> {
        Ok(Self {
            app,
            actor,
            series,
            today,
            ids: BTreeMap::new(),
            pieces: serde_json::from_str(pieces).context("pieces.json")?,
        })
    }

    /// Remembers the id that `@name` stands for.
    pub fn name(&mut self, name: String, id: Uuid) {
        self.ids.insert(name, id);
    }

    /// The id that `@name` stands for.
    pub fn id(&self, name: &str) -> Result<Uuid> {
        let id = self.ids.get(name.trim_start_matches('@')).copied();
        id.with_context(|| format!("{name} is not in the book"))
    }

    /// Puts ids, days and pieces in.
    pub fn resolve(&self, value: Value) -> Result<Value> {
        Ok(match value {
            Value::String(text) if text.starts_with('@') => {
                Value::String(self.id(&text)?.to_string())
            }
            Value::String(text) if text.starts_with('=') => {
                let day = day(self.today, &text).with_context(|| format!("{text} is no day"))?;
                Value::String(day.to_string())
            }
            Value::String(text) if text.starts_with('$') => {
                let piece = self.pieces.get(text.trim_start_matches('$')).cloned();
                self.resolve(piece.with_context(|| format!("{text} is no piece"))?)?
            }
            Value::Array(items) => Value::Array(
                items
                    .into_iter()
                    .map(|item| self.resolve(item))
                    .collect::<Result<_>>()?,
            ),
            Value::Object(fields) => Value::Object(
                fields
                    .into_iter()
                    .map(|(name, value)| Ok((name, self.resolve(value)?)))
                    .collect::<Result<_>>()?,
            ),
            other => other,
        })
    }

    /// Makes the records of a JSON list that are not there. `apart` names the fields that tell them apart.
    pub async fn fill<R: Record>(
        &mut self,
        (view, edit): (Action, Action),
        text: &str,
        apart: &[&str],
    ) -> Result<Vec<(Uuid, Value)>>
    where
        R::Fields: DeserializeOwned,
    {
        let rights = Rights { view, edit };
        let there = self.there::<R>(rights).await?;
        let entries: Vec<Map<String, Value>> =
            serde_json::from_str(text).with_context(|| format!("{}s", R::KIND))?;
        let mut made = Vec::new();
        for mut entry in entries {
            let key = entry
                .remove("key")
                .and_then(|key| Some(key.as_str()?.to_owned()));
            let scan = entry.remove("scan");
            let mut fields = self.resolve(Value::Object(entry))?;
            let told = |other: &Value| apart.iter().all(|name| other[*name] == fields[*name]);
            let id = match there.iter().find(|(_, other)| told(other)) {
                Some((id, _)) => *id,
                None => {
                    if let Some(scan) = scan {
                        let lines: Vec<String> = serde_json::from_value(scan)?;
                        let id = papers::upload(self.app, &self.actor, self.series, &lines).await?;
                        fields["document_id"] = Value::String(id);
                    }
                    let typed: R::Fields = serde_json::from_value(fields.clone())
                        .with_context(|| format!("{} {fields}", R::KIND))?;
                    records::create::<R>(self.app, &self.actor, self.series, rights, typed)
                        .await
                        .map_err(|error| said(error, &fields))?
                        .id()
                }
            };
            if let Some(key) = key {
                self.name(format!("{}/{key}", R::KIND), id);
            }
            made.push((id, fields));
        }
        Ok(made)
    }

    /// Every live record of a kind, with its fields as JSON.
    pub async fn there<R: Record>(&self, rights: Rights) -> Result<Vec<(Uuid, Value)>> {
        let mut all = Vec::new();
        let mut after = None;
        loop {
            let ask = Ask {
                after,
                limit: Some(500),
                ..Ask::default()
            };
            let page = records::list::<R>(self.app, &self.actor, self.series, rights, ask).await?;
            for item in &page.items {
                all.push((item.id(), serde_json::to_value(item.fields())?));
            }
            after = page.next;
            if after.is_none() {
                return Ok(all);
            }
        }
    }

    /// The first record of a kind that `fits`.
    pub async fn find<R: Record>(&self, rights: Rights, fits: impl Fn(&R) -> bool) -> Result<R> {
        let ask = Ask {
            limit: Some(500),
            ..Ask::default()
        };
        let page = records::list::<R>(self.app, &self.actor, self.series, rights, ask).await?;
        match page.items.into_iter().find(fits) {
            Some(found) => Ok(found),
            None => bail!("{} is not there", R::NAME),
        }
    }
}

/// What an operation refused, with every field, and what it was given.
pub fn said(error: OpError, given: &Value) -> anyhow::Error {
    let faults = match &error {
        OpError::Invalid(faults) => faults
            .iter()
            .map(|fault| format!("{} {}", fault.pointer, fault.detail))
            .collect::<Vec<_>>()
            .join(" "),
        other => other.to_string(),
    };
    anyhow!("{faults}: {given}")
}
