//! The papers and grounds behind an element, as the domain asks for them. What a record does not say is missing, never
//! a yes.

use std::collections::{BTreeSet, HashMap};

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;
use waybill_domain::clearance::{
    Backing, Basis, BesideNotNeeded, Captioned, Licence, LicenceStatus, NotNeeded, Owner,
    Permission, Release, Side, Standing, Use,
};
use waybill_domain::cut_uses::ElementKey;
use waybill_domain::music::shares::{self, ShareConvention};
use waybill_domain::rights::basis::{FairUse, Ground};
use waybill_domain::rights::basis_details::DatedStep;
use waybill_domain::rights::release::{
    CopyrightWarranty, Form, FormFacts, Signer, WithdrawalStage, doubts_guardian, may_be_one_name,
};
use waybill_domain::rights::term::EventDate;

use super::super::access::Access;
use super::notices::Notices;
use crate::db::assets::{Asset, AssetBasis};
use crate::db::clearance::Records;
use crate::db::licences::{Licence as LicenceRow, LicenceSide, LicenceState};
use crate::db::music::{Music, MusicFields, MusicShares};
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

/// The papers of each record, so that an element looks through its own alone.
pub struct BySubject<'a> {
    releases: HashMap<Uuid, Vec<&'a ReleaseRow>>,
    licences: HashMap<Uuid, Vec<&'a LicenceRow>>,
}

impl<'a> BySubject<'a> {
    pub fn of(records: &'a Records) -> Self {
        let mut found = Self {
            releases: HashMap::new(),
            licences: HashMap::new(),
        };
        for row in &records.releases {
            let fields = &row.fields;
            let subjects = [fields.person_id, fields.place_id, fields.asset_id];
            for id in subjects.into_iter().flatten() {
                found.releases.entry(id).or_default().push(row);
            }
        }
        for row in &records.licences {
            for id in [row.fields.asset_id, row.fields.music_id]
                .into_iter()
                .flatten()
            {
                found.licences.entry(id).or_default().push(row);
            }
        }
        found
    }
}

/// What is looked up for the papers of all elements.
pub struct Papers<'a> {
    pub records: &'a Records,
    pub by_subject: &'a BySubject<'a>,
    pub decided: &'a Decided,
    /// The first day on which each import or piece of music stood in a cut of the episode.
    pub included: &'a HashMap<Uuid, NaiveDate>,
    pub notices: &'a Notices<'a>,
    /// Whether notes of releases are kept from whoever reads the answer.
    pub notes_kept_back: bool,
    /// Captions that name each person.
    pub captions: &'a HashMap<Uuid, Vec<Captioned>>,
}

/// Everything behind one element. `deliberate`: imports that the cut uses by themselves.
pub fn backing(
    access: &Access,
    key: &ElementKey,
    uses: &[Use],
    papers: &Papers<'_>,
    deliberate: &BTreeSet<Uuid>,
) -> Backing {
    let mut backing = Backing::default();
    let records = papers.records;
    let own = match key {
        ElementKey::Person(id)
        | ElementKey::Place(id)
        | ElementKey::Asset(id)
        | ElementKey::Music(id) => Some(id),
        ElementKey::Unlogged(_) | ElementKey::Unknown(_) => None,
    };
    let releases = own.and_then(|id| papers.by_subject.releases.get(id));
    for row in releases
        .into_iter()
        .flatten()
        .filter(|row| is_about(row, key))
    {
        add_release(&mut backing, access, row, papers);
    }
    let licences = own.and_then(|id| papers.by_subject.licences.get(id));
    backing
        .licences
        .extend(licences.into_iter().flatten().map(|row| licence(row)));
    if let ElementKey::Asset(id) | ElementKey::Music(id) = key {
        backing.included_on = papers.included.get(id).copied();
    }
    match key {
        ElementKey::Asset(id) => {
            if let Some(asset) = records.assets.get(id) {
                add_basis(&mut backing, asset, deliberate.contains(id));
                if asset.fields.contents.0.is_empty() {
                    asset.fields.embedded.trim().clone_into(&mut backing.inside);
                }
            }
        }
        ElementKey::Music(id) => {
            if let Some(music) = records.music.get(id) {
                backing.bases.extend(free_composition(music));
                backing.owners = owners(music, records);
            }
        }
        ElementKey::Person(id) => {
            let person = records.people.get(id);
            backing.also_needed = person.map_or(vec![], |person| {
                person
                    .fields
                    .also_needed
                    .iter()
                    .filter_map(|word| permission(word))
                    .collect()
            });
            // A notice stands only where nobody asked the person.
            if backing.releases.iter().all(|one| one.permission.is_some())
                && backing.not_needed.is_none()
            {
                backing.bases.extend(papers.notices.for_uses(uses));
            }
        }
        _ => {}
    }
    backing
}

fn permission(word: &str) -> Option<Permission> {
    match word {
        "school" => Some(Permission::School),
        "team" => Some(Permission::Team),
        "league" => Some(Permission::League),
        _ => None,
    }
}

/// Whose permission a form is, where it is not the person's own.
fn permission_of(kind: ReleaseKind) -> Option<Permission> {
    match kind {
        ReleaseKind::School => Some(Permission::School),
        ReleaseKind::Team => Some(Permission::Team),
        ReleaseKind::League => Some(Permission::League),
        _ => None,
    }
}

/// Whose form it is. A crew member's contract is about their work and clears nobody in the picture; a school's, team's
/// or league's permission stands beside a person's own and never for it (rulebook 3.1).
fn is_about(row: &ReleaseRow, key: &ElementKey) -> bool {
    use ReleaseKind::{Appearance, Artwork, League, Location, Materials, Minor, School, Team};
    let fields = &row.fields;
    match key {
        ElementKey::Person(id) => {
            let of_person = matches!(fields.kind, Appearance | Minor | School | Team | League);
            fields.person_id == Some(*id) && of_person
        }
        ElementKey::Place(id) => {
            fields.place_id == Some(*id) && matches!(fields.kind, Location | School)
        }
        ElementKey::Asset(id) => {
            let of_thing = matches!(fields.kind, Materials | Artwork | Team | League);
            fields.asset_id == Some(*id) && of_thing
        }
        _ => false,
    }
}

fn add_release(backing: &mut Backing, access: &Access, row: &ReleaseRow, papers: &Papers<'_>) {
    let fields = &row.fields;
    let permission = permission_of(fields.kind).filter(|_| fields.person_id.is_some());
    if fields.status == ReleaseState::NotNeeded {
        let by = papers.decided.get(&row.id);
        let decision = NotNeeded {
            reason: fields.status_note.clone(),
            kept_back: papers.notes_kept_back,
            decided_by: by.map(|(name, _)| name.clone()).unwrap_or_default(),
            decided_on: by.map(|(_, at)| {
                waybill_domain::wording::local(*at, &access.series.fields.zone).date()
            }),
        };
        match permission {
            Some(permission) => backing.beside_not_needed.push(BesideNotNeeded {
                permission,
                decision,
            }),
            None => backing.not_needed = Some(decision),
        }
        return;
    }
    backing.releases.push(Release {
        id: row.id.to_string(),
        standing: match fields.status {
            ReleaseState::Problem => Standing::Problem,
            ReleaseState::SignedNotChecked => Standing::NotChecked,
            _ => Standing::Checked,
        },
        permission,
        form: Form {
            facts: facts(row, papers.records),
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

/// What else makes a form weak (rulebook 3.1).
fn facts(row: &ReleaseRow, records: &Records) -> FormFacts {
    let (fields, details) = (&row.fields, &row.fields.details.0);
    let own = fields.person_id.and_then(|id| records.people.get(&id));
    let same = |one: &str| one.trim().to_lowercase() == details.name_on_form.trim().to_lowercase();
    let differs = match own {
        Some(person) => !same(&person.fields.legal_name) && !same(&person.fields.credited_name),
        None => false,
    };
    let signed_as = |names: [&str; 2]| {
        let known: Vec<&str> = names
            .into_iter()
            .filter(|one| !one.trim().is_empty())
            .collect();
        let by = &fields.signed_by_name;
        known.is_empty() || by.trim().is_empty() || known.iter().any(|one| may_be_one_name(by, one))
    };
    // A school's, team's or league's form is signed by its own people.
    let own = own
        .filter(|_| permission_of(fields.kind).is_none())
        .map(|person| &person.fields);
    let (other_signatory, guardian_in_doubt) = match (own, fields.signed_by) {
        (Some(own), Some(ReleaseSigner::Person)) => {
            (!signed_as([&own.legal_name, &own.credited_name]), false)
        }
        (Some(own), Some(ReleaseSigner::Guardian)) => (
            !signed_as([&own.guardian_name, ""]),
            doubts_guardian(&details.capacity) || doubts_guardian(&own.guardian_relationship),
        ),
        _ => (false, false),
    };
    FormFacts {
        other_signatory,
        guardian_in_doubt,
        child_objects: own.is_some() && details.child_agrees == Some(false),
        not_understood: details.understood == Some(false),
        dispute: details.dispute.clone(),
        other_name: if differs {
            details.name_on_form.trim().to_owned()
        } else {
            String::new()
        },
        disguise: details.disguise.clone(),
        withdrawn_on: (details.withdrawal_steps.iter().rev())
            .find(|step| step.step == WithdrawalStage::Accepted)
            .and_then(|step| step.on),
        copyright: match (fields.kind, details.copyright_warranted) {
            (ReleaseKind::Materials, Some(true)) => CopyrightWarranty::Given,
            (ReleaseKind::Materials, Some(false)) => CopyrightWarranty::Refused,
            (ReleaseKind::Materials, None) => CopyrightWarranty::NotStated,
            _ => CopyrightWarranty::NotAsked,
        },
    }
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
        terms: fields.terms.0.clone(),
    }
}

/// The ground on which an import stands, as far as its record says. What it does not say is missing, never a yes.
fn add_basis(backing: &mut Backing, asset: &Asset, deliberate: bool) {
    let fields = &asset.fields;
    let details = &fields.basis_details.0;
    // Why the ground holds is anybody's note; the lawyer's has a day of its own.
    let lawyers_note = details.lawyers_note_on.is_some();
    let ground = match fields.basis {
        // Their papers say all of it.
        AssetBasis::Licensed | AssetBasis::Released | AssetBasis::Unknown => return,
        AssetBasis::NotNeeded => {
            backing.not_needed = Some(NotNeeded {
                reason: fields.basis_note.clone(),
                decided_by: fields.basis_decided_by.clone(),
                decided_on: fields.basis_decided_on,
                // An import's own decision is no release.
                kept_back: false,
            });
            return;
        }
        AssetBasis::Own => Ground::OwnMaterial,
        AssetBasis::PublicDomain => Ground::PublicDomain {
            territories: fields.basis_territories.clone(),
            age: details.age(),
        },
        AssetBasis::FairDealing => Ground::FairDealing { lawyers_note },
        AssetBasis::Incidental => Ground::Incidental {
            lawyers_note,
            deliberate: deliberate || details.on_purpose == Some(true),
        },
        AssetBasis::FairUse => Ground::FairUse(FairUse {
            opinion_letter: details.opinion_letter_on.is_some(),
            ..details.fair_use()
        }),
        AssetBasis::CreativeCommons => Ground::CreativeCommons(details.creative_commons(
            &fields.title,
            &fields.owner,
            &fields.source,
            &fields.basis_note,
        )),
    };
    let mut dated = details.dated(&ground);
    dated.extend(fields.basis_decided_on.map(|on| DatedStep {
        what: "the decision on the ground".into(),
        on,
    }));
    backing.bases.push(Basis {
        side: Side::Whole,
        ground,
        dated,
    });
}

/// Who holds the composition, which another recording may keep, and this recording.
fn owners(music: &Music, records: &Records) -> Vec<Owner> {
    let own = &music.fields;
    let work = own.same_work_id.and_then(|id| records.works.get(&id));
    let work = work.map_or(own, |work| &work.fields);
    let convention = match work.share_convention {
        MusicShares::EachSide => ShareConvention::EachSide,
        MusicShares::Together => ShareConvention::Together,
    };
    let owner = |side, of_version| {
        move |(name, share)| Owner {
            name,
            side,
            share,
            of_version,
        }
    };
    // An arrangement may be this recording's own, or stand with the work that it shares with others.
    let mut versions: Vec<(String, Option<u32>)> = Vec::new();
    if own.composition_public_domain {
        for parties in [&own.parties.0, &work.parties.0] {
            for one in shares::owners_of_version(parties, convention) {
                if !versions.contains(&one) {
                    versions.push(one);
                }
            }
        }
    }
    let of = |fields: &MusicFields, recording| {
        let parties = &fields.parties.0;
        shares::owners(parties, convention, &fields.publisher_note, recording)
    };
    let mut composition = of(work, false);
    composition.retain(|one| !versions.contains(one));
    (composition.into_iter().map(owner(Side::Composition, false)))
        .chain(versions.into_iter().map(owner(Side::Composition, true)))
        .chain(of(own, true).into_iter().map(owner(Side::Recording, false)))
        .collect()
}

fn free_composition(music: &Music) -> Option<Basis> {
    music.fields.composition_public_domain.then(|| Basis {
        side: Side::Composition,
        ground: Ground::PublicDomain {
            territories: music.fields.composition_territories.clone(),
            age: Default::default(),
        },
        dated: vec![],
    })
}
