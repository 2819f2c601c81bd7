//! The papers and grounds behind an element, as the domain asks for them. What a record does not say is missing, never
//! a yes.

use std::collections::{BTreeSet, HashMap};

use chrono::{DateTime, Utc};
use uuid::Uuid;
use waybill_domain::clearance::{
    Backing, Basis, Licence, LicenceStatus, NotNeeded, Release, Side, Standing,
};
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::perms::Action;
use waybill_domain::rights::basis::{CreativeCommons, FairUse, Ground};
use waybill_domain::rights::release::{Form, Signer};
use waybill_domain::rights::term::EventDate;

use super::super::access::Access;
use crate::db::assets::{Asset, AssetBasis};
use crate::db::clearance::Records;
use crate::db::licences::{Licence as LicenceRow, LicenceSide, LicenceState};
use crate::db::music::Music;
use crate::db::releases::{Release as ReleaseRow, ReleaseKind, ReleaseSigner, ReleaseState};

/// Who decided something, and when.
pub type Decided = HashMap<Uuid, (String, DateTime<Utc>)>;

/// Releases that are a decision that nothing is needed: who decided stands in the audit trail.
pub fn decisions(records: &Records) -> Vec<Uuid> {
    (records.releases.iter())
        .filter(|release| release.fields.status == ReleaseState::NotNeeded)
        .map(|release| release.id)
        .collect()
}

/// Everything behind one element. `deliberate`: imports that the cut uses by themselves.
pub fn backing(
    access: &Access,
    key: &ElementKey,
    records: &Records,
    decided: &Decided,
    deliberate: &BTreeSet<Uuid>,
) -> Backing {
    let mut backing = Backing::default();
    for row in &records.releases {
        if is_about(row, key) {
            add_release(&mut backing, access, row, decided);
        }
    }
    for row in &records.licences {
        let about = match key {
            ElementKey::Asset(id) => row.fields.asset_id == Some(*id),
            ElementKey::Music(id) => row.fields.music_id == Some(*id),
            _ => false,
        };
        if about {
            backing.licences.push(licence(row));
        }
    }
    match key {
        ElementKey::Asset(id) => {
            if let Some(asset) = records.assets.get(id) {
                add_basis(&mut backing, asset, deliberate.contains(id));
            }
        }
        ElementKey::Music(id) => {
            backing
                .bases
                .extend(records.music.get(id).and_then(free_composition));
        }
        _ => {}
    }
    backing
}

/// Whose form it is. A crew member's contract is about their work, and a school's permission does not stand for a
/// guardian's (rulebook 3.1): neither clears a person in the picture.
fn is_about(row: &ReleaseRow, key: &ElementKey) -> bool {
    use ReleaseKind::{Appearance, Artwork, Location, Materials, Minor, School};
    let fields = &row.fields;
    match key {
        ElementKey::Person(id) => {
            fields.person_id == Some(*id) && matches!(fields.kind, Appearance | Minor)
        }
        ElementKey::Place(id) => {
            fields.place_id == Some(*id) && matches!(fields.kind, Location | School)
        }
        ElementKey::Asset(id) => {
            fields.asset_id == Some(*id) && matches!(fields.kind, Materials | Artwork)
        }
        _ => false,
    }
}

fn add_release(backing: &mut Backing, access: &Access, row: &ReleaseRow, decided: &Decided) {
    let fields = &row.fields;
    if fields.status == ReleaseState::NotNeeded {
        let by = decided.get(&row.id);
        let reason = if access.may(Action::ViewSensitiveNotes) {
            fields.status_note.clone()
        } else {
            "the reason stands in the record".into()
        };
        backing.not_needed = Some(NotNeeded {
            reason,
            decided_by: by.map(|(name, _)| name.clone()).unwrap_or_default(),
            decided_on: by.map(|(_, at)| {
                waybill_domain::report::local(*at, &access.series.fields.zone).date()
            }),
        });
        return;
    }
    backing.releases.push(Release {
        id: row.id.to_string(),
        standing: match fields.status {
            ReleaseState::Problem => Standing::Problem,
            ReleaseState::SignedNotChecked => Standing::NotChecked,
            _ => Standing::Checked,
        },
        form: Form {
            signed_on: fields.signed_on,
            signed_by: fields.signed_by.map(|by| match by {
                ReleaseSigner::Person => Signer::Person,
                ReleaseSigner::Guardian => Signer::Guardian,
                ReleaseSigner::Owner => Signer::Owner,
                ReleaseSigner::Other => Signer::Other,
            }),
            filmed_from: fields.filmed_from,
            filmed_to: fields.filmed_to,
            entity: fields.entity.clone(),
            consideration_stated: !fields.consideration.trim().is_empty(),
            allows_editing: fields.allows_editing,
            allows_promotion: fields.allows_promotion,
            grants: fields.grants.0.clone(),
            withdrawal: fields.withdrawal.as_ref().map(|withdrawal| withdrawal.0),
            restrictions: fields.restrictions.0.clone(),
        },
    });
}

fn licence(row: &LicenceRow) -> Licence {
    let fields = &row.fields;
    Licence {
        id: row.id.to_string(),
        licensor: fields.licensor.clone(),
        side: match fields.side {
            LicenceSide::Whole => Side::Whole,
            LicenceSide::Composition => Side::Composition,
            LicenceSide::Recording => Side::Recording,
            LicenceSide::Both => Side::Both,
        },
        status: match fields.status {
            LicenceState::Temp => LicenceStatus::Temp,
            LicenceState::Asking => LicenceStatus::Asking,
            LicenceState::Quoted => LicenceStatus::Quoted,
            LicenceState::AgreedUnsigned => LicenceStatus::AgreedUnsigned,
            LicenceState::Signed => LicenceStatus::Signed,
            LicenceState::Paid => LicenceStatus::Paid,
            LicenceState::Replaced => LicenceStatus::Replaced,
        },
        signed: EventDate {
            known: fields.signed_on,
            planned: None,
        },
        grants: fields.grants.0.clone(),
        allows_promotion: fields.allows_promotion,
        waiver_approved_on: None,
    }
}

/// The ground on which an import stands, as far as its record says. What it does not say is missing, never a yes.
fn add_basis(backing: &mut Backing, asset: &Asset, deliberate: bool) {
    let fields = &asset.fields;
    let noted = !fields.basis_note.trim().is_empty();
    let lawyers_note = noted && fields.basis_decided_on.is_some();
    let ground = match fields.basis {
        // Their papers say all of it.
        AssetBasis::Licensed | AssetBasis::Released | AssetBasis::Unknown => return,
        AssetBasis::NotNeeded => {
            backing.not_needed = Some(NotNeeded {
                reason: fields.basis_note.clone(),
                decided_by: fields.basis_decided_by.clone(),
                decided_on: fields.basis_decided_on,
            });
            return;
        }
        AssetBasis::Own => Ground::OwnMaterial,
        AssetBasis::PublicDomain => Ground::PublicDomain {
            territories: vec![],
        },
        AssetBasis::FairDealing => Ground::FairDealing { lawyers_note },
        AssetBasis::Incidental => Ground::Incidental {
            lawyers_note,
            deliberate,
        },
        AssetBasis::FairUse => Ground::FairUse(FairUse {
            opinion_letter: lawyers_note,
            ..FairUse::default()
        }),
        AssetBasis::CreativeCommons => Ground::CreativeCommons(creative_commons(asset)),
    };
    backing.bases.push(Basis {
        side: Side::Whole,
        ground,
    });
}

/// The licence's name is the basis note, such as `CC BY-NC 4.0`; a programme is paid for, and cutting alters.
fn creative_commons(asset: &Asset) -> CreativeCommons {
    let fields = &asset.fields;
    let name = fields.basis_note.to_ascii_uppercase();
    let has = |condition: &str| {
        name.split(|c: char| !c.is_ascii_alphanumeric())
            .any(|word| word == condition)
    };
    CreativeCommons {
        non_commercial: has("NC"),
        no_derivatives: has("ND"),
        share_alike: has("SA"),
        title: fields.title.clone(),
        author: fields.owner.clone(),
        source: fields.source.clone(),
        licence: fields.basis_note.clone(),
        paid_or_broadcast: true,
        altered: true,
    }
}

fn free_composition(music: &Music) -> Option<Basis> {
    music.fields.composition_public_domain.then(|| Basis {
        side: Side::Composition,
        ground: Ground::PublicDomain {
            territories: vec![],
        },
    })
}
