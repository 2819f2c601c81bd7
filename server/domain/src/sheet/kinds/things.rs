//! Fields of people, places, shoot days, imported assets, music and drives. The headings beside them
//! are those that call sheets, contact lists, music logs and drive lists use, from memory.

use super::{Choice, Field, Holds, Named, choice, day, text, word, yes_no};

pub(super) const PEOPLE: &[Field] = &[
    text(
        "credited_name",
        "Name as credited",
        &[
            "name", "credit name", "credit", "full name", "contributor", "contributor name", "participant", "person",
            "character", "subject", "interviewee", "talent", "on screen name", "screen name", "display name",
        ],
    )
    .required()
    .parts(&[
        "first name", "given name", "forename", "firstname", "first", "middle name", "last name", "surname",
        "family name", "lastname", "last",
    ]),
    text("legal_name", "Legal name", &["real name", "name in passport", "name on form", "full legal name"]),
    text(
        "credited_name_confirmed_by",
        "Credited name confirmed by",
        &["name confirmed by", "confirmed by", "spelling confirmed by"],
    ),
    day(
        "credited_name_confirmed_on",
        "Credited name confirmed on",
        &["name confirmed", "name confirmed on", "confirmed on", "spelling confirmed"],
    ),
    text("pronunciation", "Pronunciation", &["say", "pronounced"]),
    text("contact", "Contact", &["contact details", "contact info"]).parts(&[
        "phone", "telephone", "tel", "mobile", "cell", "email", "e mail", "email address", "address", "postcode",
    ]),
    day("born", "Date of birth", &["dob", "d o b", "born", "birthday", "birth date", "birthdate"]),
    choice(
        "age_band",
        "Age",
        &[
            word("adult", "adult", &["over 18", "18", "18 or over", "a", "adults"]),
            word("minor", "minor", &["under 18", "child", "m", "u18", "junior", "kid"]),
        ],
        &["age band", "adult or minor", "adult minor", "minor"],
    ),
    text(
        "guardian_name",
        "Guardian",
        &["guardian name", "parent", "parent guardian", "parent or guardian", "parent name", "parent guardian name"],
    ),
    text("guardian_relationship", "Guardian's relationship", &["relationship", "guardian relationship", "relation"]),
    text(
        "guardian_contact",
        "Guardian's contact",
        &["guardian contact", "parent contact", "guardian phone", "parent phone", "guardian email", "parent email"],
    ),
    text("language", "Language", &["languages", "speaks", "spoken language"]),
    day("died", "Died", &["date of death", "deceased"]),
    yes_no("sensitive", "Handle with care", &["sensitive", "at risk", "vulnerable", "anonymous"]),
    text(
        "recognised_by",
        "Recognised by",
        &["description", "appearance", "clothing", "recognized by", "identified by", "looks like"],
    ),
    text("notes", "Notes", &["note", "comments", "comment", "remarks"]),
];

pub(super) const PLACES: &[Field] = &[
    text("name", "Name", &["place", "location", "location name", "place name", "venue", "site", "set"]).required(),
    text("address", "Address", &["location address", "street address", "where"])
        .parts(&["street", "address line 1", "address line 2", "town", "city", "postcode", "zip", "country"]),
    text("owner", "Owner", &["location owner", "landlord", "owned by"]),
    text("signatory", "Who may sign", &["signatory", "signed by", "authorised signatory", "who signs"]),
    text("notes", "Notes", &["note", "comments", "comment", "remarks", "description"]),
];

pub(super) const SHOOT_DAYS: &[Field] = &[
    day("day", "Date", &["day", "shoot date", "shoot day", "shooting day", "filming date", "date of shoot"]).required(),
    text("title", "Title", &["what", "description", "unit", "scene", "scenes", "activity", "day title"]),
    Field::new(
        "place_ids",
        "Places",
        Holds::Many(Named::Places),
        &["place", "location", "locations", "venue", "where"],
    ),
    Field::new(
        "cards_expected",
        "Cards expected",
        Holds::Whole,
        &["cards", "number of cards", "expected cards", "card count"],
    ),
    text("crew", "Crew", &["crew list", "team", "camera crew"]),
    text(
        "cast_expected",
        "People expected",
        &["cast", "contributors", "talent", "people", "cast expected", "participants"],
    ),
    text("notices_posted", "Notices posted", &["crowd notices", "notices", "filming notices", "signage"]),
    text("risk_note", "Risk note", &["risk", "risks", "risk assessment", "safety"]),
];

const ORIGINS: &[Choice] = &[
    word("commercial", "commercial", &["commercial track", "released", "label"]),
    word("production", "production library", &["library", "library music", "production", "production music", "stock"]),
    word("commissioned", "commissioned", &["original", "score", "bespoke", "original score", "composed"]),
    word("live", "heard live", &["live", "live performance", "on location"]),
];

pub(super) const MUSIC: &[Field] = &[
    text(
        "title",
        "Title",
        &["track", "track title", "song", "song title", "cue", "cue title", "piece", "work title", "name"],
    )
    .required(),
    choice("origin", "Origin", ORIGINS, &["type", "source", "kind", "music type", "category"]).default("commercial"),
    text(
        "composers",
        "Composers",
        &["composer", "writer", "writers", "songwriter", "author", "composer s", "music by"],
    ),
    text("publishers", "Publishers", &["publisher", "publishing", "publisher s"]),
    text("performers", "Performers", &["performer", "artist", "artists", "band", "performed by", "artist s"]),
    text("label", "Label", &["record label", "record company", "master owner"]),
    text(
        "catalogue_number",
        "Catalogue number",
        &["catalogue", "catalog number", "cat no", "catalogue no", "cd number"],
    ),
    text("iswc", "ISWC", &["work code", "iswc code"]),
    text("isrc", "ISRC", &["recording code", "isrc code"]),
    yes_no(
        "composition_public_domain",
        "Composition in the public domain",
        &["public domain", "pd", "composition public domain", "traditional"],
    ),
    Field::new(
        "composition_territories",
        "Composition free in",
        Holds::Territories,
        &["public domain in", "free in"],
    ),
    text("composition_note", "Note on the composition", &["public domain note", "composition note"]),
    Field::new(
        "match_names",
        "Names in the cut",
        Holds::Texts,
        &["file name", "filename", "file names", "clip name", "clip names", "file", "clip"],
    ),
    Field::new("parties", "Parties and shares", Holds::Parties, &["parties", "shares", "splits", "interested parties"]),
    choice("share_convention", "Shares are of", SHARES, &["share convention", "shares add up to"]).default("each_side"),
    text("publisher_note", "Why no publisher", &["publisher note", "no publisher"]),
    text("notes", "Notes", &["note", "comments", "comment", "remarks"]),
];

const SHARES: &[Choice] = &[
    word("each_side", "writers 100 %, publishers 100 %", &["each side", "each 100", "200"]),
    word("together", "together 100 %", &["both together", "100"]),
];

const CLASSES: &[Choice] = &[
    word("still", "still", &["photo", "photograph", "picture", "image", "stills"]),
    word("archive", "archive", &["archive footage", "footage", "stock footage", "newsreel", "archival"]),
    word("web", "web", &["online video", "website", "web page", "screenshot"]),
    word("phone_video", "phone video", &["mobile video", "phone", "user generated"]),
    word("sound_effect", "sound effect", &["sfx", "fx", "effect"]),
    word("font", "font", &["typeface"]),
    word("graphic", "graphic", &["graphics", "map", "animation", "logo"]),
    word("artwork", "artwork", &["art", "painting", "poster", "sculpture", "mural"]),
    word("brand", "brand", &["trademark", "product"]),
    word("newspaper", "newspaper", &["press", "headline", "magazine"]),
    word("made_by_machine", "made by machine", &["generated", "ai", "synthetic"]),
    word("other", "other", &["misc", "miscellaneous"]),
];

const BASES: &[Choice] = &[
    word("licensed", "licensed", &["licence", "license"]),
    word("released", "released", &["release"]),
    word("public_domain", "public domain", &["pd"]),
    word("fair_use", "fair use", &[]),
    word("fair_dealing", "fair dealing", &[]),
    word("incidental", "incidental", &["incidental inclusion"]),
    word("own", "own", &["own material", "ours", "in house", "original"]),
    word("creative_commons", "creative commons", &["cc", "cc by", "cc by sa"]),
    word("not_needed", "not needed", &["n a", "none needed", "not required"]),
    word("unknown", "unknown", &["tbc", "tbd", "not known", "to be confirmed"]),
];

pub(super) const ASSETS: &[Field] = &[
    text("title", "Title", &["asset", "asset title", "name", "item", "clip title", "asset name", "archive title"])
        .required(),
    choice("class", "Class", CLASSES, &["type", "kind", "category", "asset type", "media type"]).default("other"),
    text("description", "Description", &["details", "content", "shot description", "what"]),
    text("owner", "Owner", &["rights holder", "rightsholder", "copyright", "copyright owner", "copyright holder"]),
    text("source", "Source", &["supplier", "library", "url", "link", "from", "archive", "where from", "web address"]),
    choice("basis", "Ground", BASES, &["basis", "clearance basis", "rights basis", "legal basis"]).default("unknown"),
    text("basis_note", "Note on the ground", &["basis note", "rationale", "reason"]),
    text("basis_decided_by", "Decided by", &["basis decided by", "approved by", "cleared by"]),
    day("basis_decided_on", "Decided on", &["basis decided on", "decision date", "approved on"]),
    text("credit_line", "Credit line", &["credit", "credit wording", "on screen credit"]),
    Field::new(
        "match_names",
        "Names in the cut",
        Holds::Texts,
        &["file name", "filename", "file names", "clip name", "clip names", "file", "clip", "clip id", "asset number"],
    ),
    text("embedded", "Rights inside it", &["embedded", "underlying rights", "contains", "third party content"]),
];

const DRIVE_KINDS: &[Choice] = &[
    word("hdd", "hard disk", &["hdd", "hard drive", "spinning", "disk"]),
    word("ssd", "SSD", &["ssd", "solid state"]),
    word("lto", "LTO", &["lto", "tape"]),
    word("raid", "RAID", &["raid", "array", "nas"]),
    word("cloud", "cloud", &["bucket", "online"]),
    word("other", "other", &[]),
];

const DRIVE_STATES: &[Choice] = &[
    word("fine", "fine", &["ok", "good", "healthy", "working", "in use"]),
    word("check_due", "check due", &["check", "due", "unchecked", "to check"]),
    word("mismatch", "mismatch", &["fault", "faulty", "failed", "error", "broken"]),
    word("missing", "missing", &["lost", "not found"]),
    word("retired", "retired", &["old", "scrapped", "wiped"]),
];

pub(super) const DRIVES: &[Field] = &[
    text("label", "Label", &["drive", "drive name", "drive label", "name", "volume", "drive id", "drive number"])
        .required(),
    text("serial", "Serial number", &["serial", "serial no", "s n", "sn"]),
    choice("kind", "Kind", DRIVE_KINDS, &["type", "drive type", "media"]).default("other"),
    Field::new("capacity_bytes", "Capacity in bytes", Holds::Bytes, &["capacity", "size", "drive size", "total"]),
    Field::new("free_bytes", "Free bytes", Holds::Bytes, &["free", "free space", "available", "space left"]),
    day("bought_on", "Bought on", &["bought", "purchased", "purchase date", "date bought"]),
    yes_no("encrypted", "Encrypted", &["encryption", "password protected"]),
    text("place", "Kept at", &["place", "location", "where", "stored at", "kept", "site"]),
    text("holder", "Held by", &["holder", "who", "with", "custodian", "held", "responsible"]),
    choice("status", "State", DRIVE_STATES, &["status", "condition", "health"]).default("check_due"),
    day("next_check_on", "Next check on", &["next check", "check on", "check date"]),
    text("notes", "Notes", &["note", "comments", "comment", "remarks", "contents", "description"]),
];
