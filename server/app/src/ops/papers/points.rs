//! The points of the insurer's checklist (rulebook 3.5, in our own words), and where the records of an episode say something of each.

use waybill_domain::cut_uses::ElementKey;

use crate::db::assets::AssetClass;
use crate::ops::clearance::Worked;

/// A point.
pub struct Point {
    pub item: &'static str,
    pub words: &'static str,
    pub look: Look,
}

/// Where a point is looked up; the rest only a person can say.
#[derive(Clone, Copy)]
pub enum Look {
    Person,
    Owed(&'static str),
    Unsigned,
    Elements(fn(&ElementKey, &Worked) -> bool),
    Editing,
    Deceased,
    Embedded,
    Blocked,
    Grounds,
    Withdrawals,
    Captions,
    Minors,
}

const fn point(item: &'static str, words: &'static str, look: Look) -> Point {
    Point { item, words, look }
}

/// All points in their order.
pub const POINTS: [Point; 21] = [
    point(
        "counsel",
        "Counsel reviewed the programme throughout, up to the final cut.",
        Look::Person,
    ),
    point(
        "outline",
        "Script or outline was read for defamation and privacy.",
        Look::Person,
    ),
    point(
        "synopsis",
        "A detailed synopsis of the documentary exists.",
        Look::Person,
    ),
    point(
        "origin",
        "Copyright and origin of underlying works were searched.",
        Look::Person,
    ),
    point(
        "submissions",
        "The history of ideas submitted by others was looked at.",
        Look::Person,
    ),
    point(
        "title",
        "A title report was made before the final title.",
        Look::Owed("title report"),
    ),
    point(
        "agreements",
        "Everybody who supplied material or services has a written agreement.",
        Look::Unsigned,
    ),
    point(
        "people",
        "Recognisable living people are released, unless not seen long or clearly enough.",
        Look::Elements(is_person),
    ),
    point(
        "captions",
        "Captions name people as they confirmed it, and nobody who asked not to be named.",
        Look::Captions,
    ),
    point(
        "minors",
        "Releases bind minors where they are concerned.",
        Look::Minors,
    ),
    point(
        "editing",
        "Releases allow editing, re-ordering and juxtaposition.",
        Look::Editing,
    ),
    point(
        "deceased",
        "Deceased people were considered.",
        Look::Deceased,
    ),
    point(
        "allegations",
        "Allegations are supported by sources.",
        Look::Person,
    ),
    point(
        "brands",
        "Private numbers, plates, addresses, brands and logos were looked at.",
        Look::Elements(is_brand),
    ),
    point(
        "places",
        "Distinctive places, buildings, artworks and products are cleared.",
        Look::Elements(is_place),
    ),
    point(
        "clips",
        "Clips are cleared with their underlying rights and performers.",
        Look::Embedded,
    ),
    point(
        "music",
        "Music is cleared: composition, recording and performance.",
        Look::Elements(is_music),
    ),
    point(
        "media",
        "All needed media and territories are granted, new media included.",
        Look::Blocked,
    ),
    point(
        "grounds",
        "Reliance on fair use or fair dealing is declared, with counsel’s letter.",
        Look::Grounds,
    ),
    point(
        "claims",
        "Claims, threats and withdrawals are disclosed.",
        Look::Withdrawals,
    ),
    point(
        "insured",
        "The distributor is named as additional insured where asked for.",
        Look::Person,
    ),
];

fn is_person(key: &ElementKey, _: &Worked) -> bool {
    matches!(key, ElementKey::Person(_))
}

pub fn is_minor(key: &ElementKey, worked: &Worked) -> bool {
    use crate::db::people::KeptAge;
    let ElementKey::Person(id) = key else {
        return false;
    };
    worked
        .material
        .records
        .people
        .get(id)
        .is_some_and(|person| match person.fields.born {
            // Whoever was a minor when filmed, too, though of age by now (R20).
            Some(born) => {
                let filmed = worked.material.uses.get(key).into_iter().flatten();
                let first = filmed.filter_map(|one| one.filmed_on).min();
                let day = first.unwrap_or(worked.today).min(worked.today);
                waybill_domain::age::age(born, day) < worked.question.house.adult_at
            }
            None => person.fields.age_band == Some(KeptAge::Minor),
        })
}

pub fn of_class(key: &ElementKey, worked: &Worked, classes: &[AssetClass]) -> bool {
    let ElementKey::Asset(id) = key else {
        return false;
    };
    let asset = worked.material.records.assets.get(id);
    asset.is_some_and(|asset| classes.contains(&asset.fields.class))
}

fn is_brand(key: &ElementKey, worked: &Worked) -> bool {
    of_class(key, worked, &[AssetClass::Brand])
}

fn is_place(key: &ElementKey, worked: &Worked) -> bool {
    matches!(key, ElementKey::Place(_)) || of_class(key, worked, &[AssetClass::Artwork])
}

fn is_music(key: &ElementKey, _: &Worked) -> bool {
    matches!(key, ElementKey::Music(_))
}
