//! Licences: who grants what in an imported asset or a side of music, where, how and when.

use chrono::NaiveDate;
use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::costs::currency_fault;
use waybill_domain::perms::Action;
use waybill_domain::rights::coverage::Grant;
use waybill_domain::rights::licence_terms::LicenceTerms;

use super::record::{Fields, Reference};
use super::{Conn, Json, documents, territory_groups};
use crate::error::{FieldError, OpError};
use crate::ops::access::Access;
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// Which right it is about.
    pub enum LicenceSide {
        Whole = "whole", Composition = "composition", Recording = "recording", Both = "both",
    }
}

text_enum! {
    /// How far a licence has come.
    pub enum LicenceState {
        Temp = "temp", Asking = "asking", Quoted = "quoted", AgreedUnsigned = "agreed_unsigned",
        Signed = "signed", Paid = "paid", Replaced = "replaced",
    }
}

/// A licence.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::licences, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct LicenceFields {
    /// Either this or `music_id`.
    #[schema(required)]
    pub asset_id: Option<Uuid>,
    #[schema(required)]
    pub music_id: Option<Uuid>,
    /// `whole` with an asset; with music a side, or `both` when one party gives both.
    pub side: LicenceSide,
    pub licensor: String,
    #[serde(default)]
    pub reference: String,
    pub status: LicenceState,
    #[schema(required)]
    pub signed_on: Option<NaiveDate>,
    #[serde(default)]
    #[schema(value_type = Vec<Grant>)]
    pub grants: Json<Vec<Grant>>,
    /// In the currency's smallest unit. Shown only to those who may see fees.
    #[schema(required)]
    pub fee_minor: Option<i64>,
    /// Three letters (ISO 4217); needed with a fee.
    #[serde(default)]
    pub currency: String,
    /// Shown only to those who may see fees.
    #[schema(required)]
    pub payment_due: Option<NaiveDate>,
    #[serde(default)]
    pub credit_line: String,
    #[serde(default)]
    pub allows_promotion: bool,
    #[serde(default)]
    pub conditions: String,
    /// What it says besides (R10, R11, R52).
    #[serde(default)]
    #[schema(value_type = LicenceTerms)]
    pub terms: Json<LicenceTerms>,
    /// Scan of the licence.
    #[schema(required)]
    pub document_id: Option<String>,
    #[serde(default)]
    pub notes: String,
}

impl LicenceFields {
    fn subject(&self, faults: &mut Vec<FieldError>) {
        match (self.asset_id, self.music_id) {
            (None, None) => faults.push(FieldError::new(
                "/asset_id",
                "Say what is licensed: an imported asset or a piece of music.",
            )),
            (Some(_), Some(_)) => faults.push(FieldError::new(
                "/music_id",
                "A licence is about an imported asset or a piece of music, not both. Enter two licences.",
            )),
            (Some(_), None) if self.side != LicenceSide::Whole => faults.push(FieldError::new(
                "/side",
                "An imported asset has no sides: choose “whole”.",
            )),
            (None, Some(_)) if self.side == LicenceSide::Whole => faults.push(FieldError::new(
                "/side",
                "Music has two sides: say whether this is the composition, the recording, or both.",
            )),
            _ => {}
        }
    }

    fn state(&self, faults: &mut Vec<FieldError>) {
        use LicenceState::{AgreedUnsigned, Asking, Paid, Quoted, Signed, Temp};
        match (self.status, self.signed_on) {
            (Signed | Paid, None) => faults.push(FieldError::new(
                "/signed_on",
                "A signed licence has a date of signature.",
            )),
            (Temp | Asking | Quoted | AgreedUnsigned, Some(_)) => faults.push(FieldError::new(
                "/status",
                "It has a date of signature, so it is signed or paid. Choose that, or clear the date.",
            )),
            _ => {}
        }
    }

    fn further(&self, faults: &mut Vec<FieldError>) {
        let terms = &self.terms.0;
        check::text(faults, "/terms/law", &terms.law, 500);
        let except = &terms.most_favoured_except;
        check::text(faults, "/terms/most_favoured_except", except, 2000);
        let by = &terms.waiver_approved_by;
        check::text(faults, "/terms/waiver_approved_by", by, 500);
        for (pointer, day) in [
            ("/terms/holdback_until", terms.holdback_until),
            ("/terms/waiver_asked_on", terms.waiver_asked_on),
            ("/terms/waiver_approved_on", terms.waiver_approved_on),
        ] {
            check::day(faults, pointer, day);
        }
        if let Some(minimum) = terms.minimum_billing {
            let pointer = "/terms/minimum_billing/seconds";
            check::within(faults, pointer, minimum.seconds.into(), 1, 86_400);
        }
    }

    fn money(&self, faults: &mut Vec<FieldError>) {
        if self.fee_minor.is_some_and(|fee| fee < 0) {
            faults.push(FieldError::new("/fee_minor", "A fee is not below zero."));
        }
        if !self.currency.is_empty() {
            let fault = currency_fault(&self.currency);
            faults.extend(fault.map(|words| FieldError::new("/currency", words)));
        }
        if self.fee_minor.is_some() && self.currency.is_empty() {
            faults.push(FieldError::new(
                "/currency",
                "Say in which currency the fee is.",
            ));
        }
    }
}

impl Fields for LicenceFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::required(&mut faults, "/licensor", &self.licensor, 200);
        for (pointer, value, most) in [
            ("/reference", &self.reference, 500),
            ("/credit_line", &self.credit_line, 500),
            ("/conditions", &self.conditions, 20_000),
            ("/notes", &self.notes, 20_000),
        ] {
            check::text(&mut faults, pointer, value, most);
        }
        self.subject(&mut faults);
        self.state(&mut faults);
        self.money(&mut faults);
        check::day(&mut faults, "/signed_on", self.signed_on);
        check::day(&mut faults, "/payment_due", self.payment_due);
        check::grants(&mut faults, "/grants", &self.grants.0);
        self.further(&mut faults);
        check::hash(&mut faults, "/document_id", self.document_id.as_deref());
        faults
    }

    fn references(&self) -> Vec<Reference> {
        [
            Reference::maybe("/asset_id", "assets", self.asset_id),
            Reference::maybe("/music_id", "music", self.music_id),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn hide(&mut self, access: &Access) {
        if !access.may(Action::ViewFees) {
            self.fee_minor = None;
            self.payment_due = None;
        }
    }

    fn keep_hidden(&mut self, old: &Self, access: &Access) {
        if !access.may(Action::ViewFees) {
            self.fee_minor = old.fee_minor;
            self.currency.clone_from(&old.currency);
            self.payment_due = old.payment_due;
        }
    }

    async fn gate(
        conn: &mut Conn,
        series: Uuid,
        _: Option<(Uuid, &Self)>,
        new: &Self,
    ) -> Result<(), OpError> {
        let lists = territory_groups::of_grants("/grants", &new.grants.0);
        territory_groups::must_exist(conn, series, lists).await?;
        documents::must_exist(conn, series, "/document_id", new.document_id.as_deref()).await
    }
}

record_table! {
    /// A licence.
    pub struct Licence { fields: LicenceFields }
    table: licences, kind: "licence", name: "The licence",
    search: [licensor, reference, conditions, notes],
    used_by: &[("costs", "licence_id", "costs")],
}
