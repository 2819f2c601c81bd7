//! One sound record of each kind, in a series about a harbour rowing club's season.

use serde_json::{Value, json};
use waybill_domain::perms::Action;
use waybill_tests::http::Client;

/// A kind of record: its path, who may see and change it, and its word in the audit trail.
pub struct Kind {
    pub path: &'static str,
    pub view: Action,
    pub edit: Action,
    pub word: &'static str,
}

const fn kind(path: &'static str, view: Action, edit: Action, word: &'static str) -> Kind {
    Kind {
        path,
        view,
        edit,
        word,
    }
}

/// Every kind, in an order in which each can refer to those before it. Who may see and change what is rulebook 8.
pub const KINDS: [Kind; 17] = {
    use Action::*;
    [
        kind("episodes", ViewSeries, EditSchedule, "episode"),
        kind("scenes", ViewSeries, EditSchedule, "scene"),
        kind("places", ViewPeople, EditPeople, "place"),
        kind("shoot-days", ViewSeries, EditSchedule, "shoot_day"),
        kind("people", ViewPeople, EditPeople, "person"),
        kind("assets", ViewCuts, EditAssets, "asset"),
        kind("music", ViewCuts, EditAssets, "music"),
        kind("releases", ViewReleases, EditReleases, "release"),
        kind("licences", ViewLicences, EditLicences, "licence"),
        kind("costs", ViewFees, EditLicences, "cost"),
        kind("budgets", ViewFees, EditLicences, "budget"),
        kind(
            "specifications",
            ViewDeliveries,
            EditSpecification,
            "specification",
        ),
        kind(
            "deliverables",
            ViewDeliveries,
            EditDeliverables,
            "deliverable",
        ),
        kind("drives", ViewFootage, EditFootage, "drive"),
        kind("cards", ViewFootage, EditFootage, "card"),
        kind(
            "territory-groups",
            ViewDeliveries,
            EditSpecification,
            "territory_group",
        ),
        kind("showings", ViewDeliveries, EditDeliverables, "showing"),
    ]
};

/// Ids of the records that others refer to.
pub struct Ids {
    pub series: String,
    pub episode: String,
    pub place: String,
    pub day: String,
    pub person: String,
    pub asset: String,
    pub music: String,
    pub licence: String,
    pub specification: String,
}

impl Ids {
    /// Makes one record of each kind that others refer to.
    pub async fn make(client: &Client, series: &str) -> Self {
        let mut ids = Self {
            series: series.to_owned(),
            episode: String::new(),
            place: String::new(),
            day: String::new(),
            person: String::new(),
            asset: String::new(),
            music: String::new(),
            licence: String::new(),
            specification: String::new(),
        };
        ids.episode = ids.create(client, "episodes").await;
        ids.place = ids.create(client, "places").await;
        ids.day = ids.create(client, "shoot-days").await;
        ids.person = ids.create(client, "people").await;
        ids.asset = ids.create(client, "assets").await;
        ids.music = ids.create(client, "music").await;
        ids.licence = ids.create(client, "licences").await;
        ids.specification = ids.create(client, "specifications").await;
        ids
    }

    async fn create(&self, client: &Client, kind: &str) -> String {
        let made = client.post(&self.path(kind), &self.body(kind, 1)).await;
        made.expect(201).id()
    }

    /// The address of a kind.
    pub fn path(&self, kind: &str) -> String {
        format!("/api/series/{}/{kind}", self.series)
    }

    /// A body of a kind; `n` makes unique what must be.
    pub fn body(&self, kind: &str, n: usize) -> Value {
        match kind {
            "episodes" => json!({
                "number": n, "title": "First Water", "status": "cutting", "slot_seconds": 3480,
                "first_transmission": null, "first_transmission_planned": "2029-10-01", "delivered": null,
                "delivery_planned": "2029-06-15", "first_use": null, "notes": ""
            }),
            "scenes" => json!({
                "episode_id": self.episode, "position": n, "kind": "cold_open", "title": "Fog on the slipway",
                "starts_at": "10:00:00:00", "ends_at": "10:01:10:12", "notes": ""
            }),
            "places" => json!({
                "name": "Harbour slipway", "address": "The Quay", "owner": "Harbour trust",
                "signatory": "Harbour master, for the trust", "notes": ""
            }),
            "shoot-days" => json!({
                "day": "2028-03-14", "title": "Launch", "place_ids": [self.place], "cards_expected": 3,
                "crew": "two cameras, one sound", "cast_expected": "juniors", "notices_posted": "",
                "risk_note": "Life jackets at the slipway."
            }),
            "people" => json!({
                "legal_name": "Wren Harbour Tallow", "credited_name": "Wren Tallow", "credited_name_confirmed_by": "",
                "credited_name_confirmed_on": null, "pronunciation": "", "contact": "wren@tallow.example",
                "born": "2012-05-01", "age_band": null, "guardian_name": "Sorrel Tallow",
                "guardian_relationship": "mother", "guardian_contact": "sorrel@tallow.example", "language": "en",
                "died": null, "sensitive": false, "recognised_by": "red cap", "notes": "quiet on camera"
            }),
            _ => self.paper(kind, n),
        }
    }

    fn paper(&self, kind: &str, n: usize) -> Value {
        let grants = json!([{
            "territories": ["154", "FR"], "territories_except": ["NO"], "media": ["television", "on_demand"],
            "media_except": ["on_demand.transactional"], "starts": "first_transmission", "term": {"months": 60},
            "counting": "including", "long_stop": "2036-12-31",
            "limits": {"runs": {"allowed": 3, "counting": "each"}, "episodes": [1], "versions": ["broadcast"]},
            "options": [{"months": 12, "notice_days": 90, "price": "as agreed", "taken_up_on": null}]
        }]);
        match kind {
            "assets" => json!({
                "class": "archive", "title": "Harbour newsreel 1934", "description": "The regatta", "owner": "Quay Archive",
                "source": "https://quay.example/reel/7", "basis": "licensed", "basis_note": "", "basis_decided_by": "",
                "basis_decided_on": null, "credit_line": "Quay Archive", "match_names": ["NEWSREEL_1934.mov"],
                "embedded": "music on the reel"
            }),
            "music" => json!({
                "title": "The Pilot's Farewell", "origin": "commercial", "composers": "traditional", "publishers": "",
                "performers": "Harbour Choir", "label": "Tidemark", "catalogue_number": "TM 7", "iswc": "",
                "isrc": "GB-A1B-29-00001", "composition_public_domain": true, "composition_note": "collected 1903",
                "match_names": [], "notes": ""
            }),
            "releases" => json!({
                "kind": "minor", "person_id": self.person, "place_id": null, "asset_id": null, "status": "restricted_ok",
                "status_note": "seen by the producer", "signed_by": "guardian", "signed_by_name": "Sorrel Tallow",
                "signed_on": "2028-03-14", "filmed_from": "2028-03-14", "filmed_to": "2028-09-30",
                "entity": "Breakwater Films Ltd", "law": "England and Wales", "consideration": "1 GBP",
                "allows_editing": true, "allows_promotion": false, "form_version": "3", "grants": grants,
                "restrictions": [{"kind": "no_name"}, {"kind": "not_in", "territories": ["US"]}], "withdrawal": null,
                "document_id": null, "original_held": "office", "notes": "spoke to the mother"
            }),
            "licences" => json!({
                "asset_id": self.asset, "music_id": null, "side": "whole", "licensor": "Quay Archive",
                "reference": "QA 112", "status": "signed", "signed_on": "2028-11-02", "grants": grants,
                "fee_minor": 48_000, "currency": "GBP", "payment_due": "2029-02-01", "credit_line": "Quay Archive",
                "allows_promotion": false, "conditions": "", "document_id": null, "notes": ""
            }),
            "costs" => json!({
                "licence_id": self.licence, "episode_id": self.episode, "currency": "GBP", "quoted_minor": 50_000,
                "agreed_minor": 48_000, "paid_minor": 10_000, "paid_on": "2029-02-01", "most_favoured": false,
                "step_ups": [{ "what": "Five more years", "amount_minor": 20_000, "until": "2030-01-31", "taken": false }],
                "notes": ""
            }),
            "budgets" => json!({
                "episode_id": self.episode, "title": "Archive", "currency": "GBP", "amount_minor": 400_000, "notes": ""
            }),
            "specifications" => json!({
                "name": "Main broadcaster", "broadcaster": "Northern Channel", "edition": "4, January 2029",
                "territories": ["GB", "IE"], "territories_except": [], "media": ["television.free"], "media_except": [],
                "needed_from": "2029-10-01", "needed_to": "2034-09-30", "overhang_months": 6, "notes": ""
            }),
            "deliverables" => json!({
                "episode_id": self.episode, "specification_id": self.specification, "item": "Programme file",
                "due_on": "2029-06-15", "owner_id": null, "status": "in_work", "status_note": "", "notes": ""
            }),
            "drives" => json!({
                "label": format!("HRB-{n:02}"), "serial": "", "kind": "ssd", "capacity_bytes": 4_000_000_000_000_i64,
                "free_bytes": 1_000_000_000_000_i64, "bought_on": "2028-01-10", "encrypted": true, "place": "office",
                "holder": "post", "status": "fine", "next_check_on": "2029-03-01", "notes": ""
            }),
            "cards" => json!({
                "shoot_day_id": self.day, "name": format!("20280314_A{n:03}_CAMB_SLIPWAY"), "camera": "CAMB",
                "number": format!("A{n:03}"), "shot_on": "2028-03-14", "state": "offloading", "wiped_by": "",
                "wiped_on": null, "notes": ""
            }),
            "territory-groups" => json!({
                "name": format!("Harbour coasts {n}"), "territories": ["GB", "IE", "154"], "notes": ""
            }),
            "showings" => json!({
                "episode_id": self.episode, "day": "2029-10-01", "at_time": "20:30", "territories": ["GB"],
                "media": ["television.free"], "repeat": false, "notes": ""
            }),
            other => panic!("no sample of {other}"),
        }
    }
}

/// The field of each kind that a test may change freely.
pub fn free_field(kind: &str) -> &'static str {
    match kind {
        "shoot-days" => "crew",
        "assets" => "description",
        _ => "notes",
    }
}
