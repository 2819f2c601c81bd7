//! The kinds of lists that can be brought in, and for each the fields that a column can fill: the
//! name in the record, the heading we write ourselves, what it holds, and what teams call it.

#[rustfmt::skip]
mod papers;
#[rustfmt::skip]
mod things;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A kind of list.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum SheetKind {
    /// People.
    People,
    /// Places.
    Places,
    /// Shoot days.
    ShootDays,
    /// Releases.
    Releases,
    /// Imported assets.
    Assets,
    /// Music.
    Music,
    /// Licences.
    Licences,
    /// Drives.
    Drives,
    /// Deliverables.
    Deliverables,
}

/// Records that a cell can name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Named {
    /// People, by credited name.
    People,
    /// Places, by name.
    Places,
    /// Imported assets, by title.
    Assets,
    /// Music, by title.
    Music,
    /// Episodes, by number or title.
    Episodes,
    /// Delivery specifications, by name.
    Specifications,
    /// Members of the series, by name or e-mail address.
    Members,
}

impl Named {
    /// One of them, in a sentence.
    pub fn one(self) -> &'static str {
        match self {
            Self::People => "person",
            Self::Places => "place",
            Self::Assets => "imported asset",
            Self::Music => "piece of music",
            Self::Episodes => "episode",
            Self::Specifications => "delivery specification",
            Self::Members => "member of the series",
        }
    }
}

/// One of the words that a field can hold.
#[derive(Debug)]
pub struct Choice {
    /// In the record.
    pub value: &'static str,
    /// As we write it in a cell.
    pub words: &'static str,
    /// What teams write for it, folded.
    pub also: &'static [&'static str],
}

/// What a field holds, and so how its cells are read.
#[derive(Clone, Copy, Debug)]
pub enum Holds {
    /// Text.
    Text,
    /// A list of texts.
    Texts,
    /// A day.
    Day,
    /// Yes or no.
    YesNo,
    /// One of a closed set of words.
    Choice(&'static [Choice]),
    /// A whole number.
    Whole,
    /// An amount in the smallest unit of the row's currency.
    Money,
    /// A currency, three letters.
    Currency,
    /// A number of bytes.
    Bytes,
    /// A list of territories.
    Territories,
    /// A list of media.
    Media,
    /// What starts a term: a day or an event.
    Starts,
    /// How long a term runs: a last day, months, or perpetuity.
    Term,
    /// Another record of the series.
    One(Named),
    /// Other records of the series.
    Many(Named),
    /// Conditions of a release, a line each.
    Restrictions,
    /// Parties to a piece of music with their shares, a line each.
    Parties,
}

/// A field that a column can fill.
#[derive(Debug)]
pub struct Field {
    /// Its name in the record; `grant.x` is `x` of each of the record's grants.
    pub key: &'static str,
    /// As a heading, and in sentences.
    pub label: &'static str,
    pub holds: Holds,
    /// A new record can't do without it.
    pub required: bool,
    /// What a new record gets where no cell says it, as its value. Said on the page.
    pub default: Option<&'static str>,
    /// Headings that mean it, folded.
    pub also: &'static [&'static str],
    /// Headings of columns that make it up together, in the order in which they are joined.
    pub parts: &'static [&'static str],
}

impl Field {
    const fn new(
        key: &'static str,
        label: &'static str,
        holds: Holds,
        also: &'static [&'static str],
    ) -> Self {
        Self {
            key,
            label,
            holds,
            required: false,
            default: None,
            also,
            parts: &[],
        }
    }

    const fn required(mut self) -> Self {
        self.required = true;
        self
    }

    const fn default(mut self, value: &'static str) -> Self {
        self.default = Some(value);
        self
    }

    const fn parts(mut self, parts: &'static [&'static str]) -> Self {
        self.parts = parts;
        self
    }

    /// The name of the field inside a grant, for one of a grant's fields.
    pub fn of_grant(&self) -> Option<&'static str> {
        self.key.strip_prefix("grant.")
    }

    /// Whether several columns can give it together: parts that are joined, or one for each grant.
    pub fn joins(&self) -> bool {
        !self.parts.is_empty() || self.of_grant().is_some()
    }

    /// The words for a value of a choice.
    pub fn word(&self, value: &str) -> Option<&'static str> {
        match self.holds {
            Holds::Choice(choices) => choices
                .iter()
                .find(|choice| choice.value == value)
                .map(|choice| choice.words),
            _ => None,
        }
    }
}

const fn text(key: &'static str, label: &'static str, also: &'static [&'static str]) -> Field {
    Field::new(key, label, Holds::Text, also)
}

const fn day(key: &'static str, label: &'static str, also: &'static [&'static str]) -> Field {
    Field::new(key, label, Holds::Day, also)
}

const fn yes_no(key: &'static str, label: &'static str, also: &'static [&'static str]) -> Field {
    Field::new(key, label, Holds::YesNo, also)
}

const fn choice(
    key: &'static str,
    label: &'static str,
    choices: &'static [Choice],
    also: &'static [&'static str],
) -> Field {
    Field::new(key, label, Holds::Choice(choices), also)
}

const fn one(
    key: &'static str,
    label: &'static str,
    named: Named,
    also: &'static [&'static str],
) -> Field {
    Field::new(key, label, Holds::One(named), also)
}

const fn word(value: &'static str, words: &'static str, also: &'static [&'static str]) -> Choice {
    Choice { value, words, also }
}

impl SheetKind {
    /// All kinds.
    pub const ALL: [SheetKind; 9] = [
        Self::People,
        Self::Places,
        Self::ShootDays,
        Self::Releases,
        Self::Assets,
        Self::Music,
        Self::Licences,
        Self::Drives,
        Self::Deliverables,
    ];

    /// The fields that a column can fill, in the order in which a list is written.
    pub fn fields(self) -> &'static [Field] {
        match self {
            Self::People => things::PEOPLE,
            Self::Places => things::PLACES,
            Self::ShootDays => things::SHOOT_DAYS,
            Self::Releases => papers::RELEASES,
            Self::Assets => things::ASSETS,
            Self::Music => things::MUSIC,
            Self::Licences => papers::LICENCES,
            Self::Drives => things::DRIVES,
            Self::Deliverables => papers::DELIVERABLES,
        }
    }

    /// A field by its name.
    pub fn field(self, key: &str) -> Option<&'static Field> {
        self.fields().iter().find(|field| field.key == key)
    }

    /// The fields that name a record to people, the first that says something.
    pub fn title(self) -> &'static [&'static str] {
        match self {
            Self::People => &["credited_name"],
            Self::Places => &["name"],
            Self::ShootDays => &["day", "title"],
            Self::Releases => &["kind", "person_id", "place_id", "asset_id"],
            Self::Assets | Self::Music => &["title"],
            Self::Licences => &["licensor", "asset_id", "music_id"],
            Self::Drives => &["label"],
            Self::Deliverables => &["item", "episode_id"],
        }
    }

    /// What makes two records duplicates of each other: each line is a set of fields that all agree
    /// and of which none is empty, with the words for it.
    pub fn same_by(self) -> &'static [(&'static [&'static str], &'static str)] {
        match self {
            Self::People => &[
                (&["credited_name"], "name"),
                (&["legal_name"], "legal name"),
            ],
            Self::Places => &[(&["name"], "name")],
            Self::ShootDays => &[(&["day"], "date")],
            Self::Releases => &[
                (&["kind", "person_id"], "kind and person"),
                (&["kind", "place_id"], "kind and place"),
                (&["kind", "asset_id"], "kind and material"),
            ],
            Self::Assets => &[(&["title"], "title")],
            Self::Music => &[(&["isrc"], "ISRC"), (&["title"], "title")],
            Self::Licences => &[
                // A licence of an import is for the whole of it, whether the list says so or not.
                (&["asset_id", "licensor"], "licensor and thing licensed"),
                (
                    &["music_id", "side", "licensor"],
                    "licensor and thing licensed",
                ),
                (&["reference", "licensor"], "licensor and reference"),
            ],
            Self::Drives => &[(&["label"], "label"), (&["serial"], "serial number")],
            Self::Deliverables => &[(&["episode_id", "item"], "episode and item")],
        }
    }

    /// Whether two records may not share the first line of [`Self::same_by`] at all.
    pub fn is_unique(self) -> bool {
        self == Self::Drives
    }
}
