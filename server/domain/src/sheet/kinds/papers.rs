//! Fields of releases, licences and deliverables. `grant.x` is a field of a grant: territory, media
//! and term in columns; of several grants, each with its number.

use super::{Choice, Field, Holds, Named, choice, day, one, text, word, yes_no};

const RELEASE_KINDS: &[Choice] = &[
    word(
        "appearance",
        "appearance",
        &["contributor", "personal", "individual", "adult", "talent", "contributor release"],
    ),
    word("minor", "minor", &["child", "under 18", "parental", "guardian"]),
    word("location", "location", &["place", "property", "location release"]),
    word("materials", "materials", &["material", "archive", "footage", "photo", "photos"]),
    word("artwork", "artwork", &["art", "artist"]),
    word("crowd_notice", "crowd notice", &["crowd", "notice", "area", "area notice"]),
    word("crew", "crew", &["team"]),
    word("school", "school", &["club", "league", "organisation"]),
];

// "Signed" and "yes" say that there is a signature, not that anybody looked at the form.
const RELEASE_STATES: &[Choice] = &[
    word("not_asked", "not asked", &["no", "n", "none", "not yet", "to do", "todo", "missing", "not started"]),
    word(
        "asked",
        "asked",
        &["sent", "requested", "pending", "waiting", "outstanding", "awaiting", "chasing", "in progress"],
    ),
    word(
        "signed_not_checked",
        "signed, not checked",
        &["signed", "yes", "y", "received", "done", "have", "complete", "completed", "in"],
    ),
    word("ok", "OK", &["checked", "cleared", "approved", "signed and checked"]),
    word("problem", "problem", &["issue", "rejected", "refused", "query", "incomplete"]),
    word("restricted_ok", "OK with restrictions", &["restricted", "conditional", "with restrictions"]),
    word("withdrawn_being_decided", "withdrawal being decided", &["withdrawn", "withdrawal"]),
    word("not_needed", "not needed", &["n a", "na", "not required", "not applicable"]),
];

const SIGNERS: &[Choice] = &[
    word("self", "the person", &["self", "themselves", "contributor", "own", "person"]),
    word("guardian", "guardian", &["parent", "mother", "father", "legal guardian", "parent or guardian"]),
    word("owner", "owner", &["landlord", "rights holder", "property owner"]),
    word("other", "other", &["aunt", "uncle", "teacher", "tenant", "friend"]),
];

const COUNTINGS: &[Choice] = &[
    word("including", "from and including", &["including", "inclusive"]),
    word("after", "after", &["following", "exclusive"]),
];

const fn territories(key: &'static str, label: &'static str, also: &'static [&'static str]) -> Field {
    Field::new(key, label, Holds::Territories, also)
}

const fn media(key: &'static str, label: &'static str, also: &'static [&'static str]) -> Field {
    Field::new(key, label, Holds::Media, also)
}

const TERRITORIES: Field =
    territories("grant.territories", "Territories", &["territory", "countries", "region", "regions", "where"]);
const TERRITORIES_EXCEPT: Field = territories(
    "grant.territories_except",
    "Territories except",
    &["excluding", "excluded territories", "territory exceptions", "except"],
);
const MEDIA: Field = media("grant.media", "Media", &["rights", "platforms", "platform", "medium", "usage rights"]);
const MEDIA_EXCEPT: Field = media("grant.media_except", "Media except", &["excluded media", "media exceptions"]);
const STARTS: Field = Field::new(
    "grant.starts",
    "Rights begin",
    Holds::Starts,
    &["start", "start date", "licence start", "license start", "from", "term start", "begins", "valid from"],
);
const TERM: Field = Field::new(
    "grant.term",
    "Rights end or run",
    Holds::Term,
    &[
        "term", "end", "end date", "expiry", "expires", "expiry date", "licence end", "license end", "duration",
        "period", "until", "licence period", "term end", "valid until",
    ],
);
const COUNTING: Field = choice("grant.counting", "Months counted", COUNTINGS, &["counting"]);
const LONG_STOP: Field = day("grant.long_stop", "Long-stop date", &["long stop", "longstop", "latest end"]);

pub(super) const RELEASES: &[Field] = &[
    choice("kind", "Kind", RELEASE_KINDS, &["type", "release type", "form", "kind of release", "form type"]).required(),
    one(
        "person_id",
        "Person",
        Named::People,
        &["name", "contributor", "contributor name", "participant", "full name", "who"],
    ),
    one("place_id", "Place", Named::Places, &["location", "venue", "location name"]),
    one("asset_id", "Material", Named::Assets, &["asset", "artwork", "materials", "item"]),
    choice("status", "State", RELEASE_STATES, &["status", "signed", "release status", "release signed", "release"])
        .default("not_asked"),
    text("status_note", "Note on the state", &["status note", "problem", "issue"]),
    choice("signed_by", "Signed as", SIGNERS, &["signatory type", "capacity", "signer"]),
    text("signed_by_name", "Signed by", &["signatory", "signed by name", "signature name", "name of signatory"]),
    day("signed_on", "Signed on", &["date signed", "signature date", "signed date", "date of signature", "date"]),
    day("filmed_from", "Filmed from", &["filming date", "shoot date", "filmed", "filmed on", "date filmed"]),
    day("filmed_to", "Filmed to", &["filmed until", "last filming date"]),
    text("entity", "Production entity", &["entity", "company", "production company"]),
    text("law", "Law", &["governing law", "jurisdiction"]),
    text("consideration", "Given in return", &["consideration", "payment", "fee"]),
    yes_no("allows_editing", "Allows editing", &["editing", "edit rights"]),
    yes_no("allows_promotion", "Allows promotion", &["promotion", "promo", "publicity", "marketing"]),
    text("form_version", "Version of the form", &["form version", "version", "template"]),
    TERRITORIES,
    TERRITORIES_EXCEPT,
    MEDIA,
    MEDIA_EXCEPT,
    STARTS,
    TERM,
    COUNTING,
    LONG_STOP,
    Field::new(
        "restrictions",
        "Conditions",
        Holds::Restrictions,
        &["restrictions", "special conditions", "restriction", "conditions of consent"],
    ),
    text("original_held", "Original held at", &["original", "original held", "paper copy", "filed at"]),
    text("notes", "Notes", &["note", "comments", "comment", "remarks"]),
];

const SIDES: &[Choice] = &[
    word("whole", "whole", &["all", "footage", "n a"]),
    word("composition", "composition", &["sync", "synch", "synchronisation", "publishing", "song", "work"]),
    word("recording", "recording", &["master", "master use", "sound recording"]),
    word("both", "both sides", &["both", "sync and master", "master and sync", "all in"]),
];

const LICENCE_STATES: &[Choice] = &[
    word("temp", "temporary in the cut", &["temp", "temporary", "placeholder"]),
    word("asking", "asking", &["requested", "pending", "enquiry", "enquired", "sent", "waiting", "no", "to do"]),
    word("quoted", "quoted", &["quote", "quote received"]),
    word("agreed_unsigned", "agreed, not signed", &["agreed", "approved", "verbal", "agreed in principle", "yes"]),
    word("signed", "signed", &["executed", "countersigned", "fully executed"]),
    word("paid", "paid", &["invoiced and paid", "settled"]),
    word("replaced", "replaced", &["dropped", "cut", "removed", "cancelled"]),
];

pub(super) const LICENCES: &[Field] = &[
    one("asset_id", "Imported asset", Named::Assets, &["asset", "archive", "footage", "clip", "item", "material"]),
    one(
        "music_id",
        "Piece of music",
        Named::Music,
        &["music", "track", "song", "cue", "piece", "track title", "song title"],
    ),
    choice("side", "Side", SIDES, &["right", "type", "licence type", "license type", "rights type"]).required(),
    text(
        "licensor",
        "Licensor",
        &["rights holder", "owner", "supplier", "publisher", "label", "library", "rightsholder", "licensed by"],
    )
    .required(),
    text(
        "reference",
        "Reference",
        &["ref", "licence number", "license number", "licence no", "contract number", "contract no", "contract", "agreement", "agreement no", "invoice", "deal"],
    ),
    choice(
        "status",
        "State",
        LICENCE_STATES,
        &["status", "licence status", "license status", "clearance status", "cleared"],
    )
    .default("asking"),
    day("signed_on", "Signed on", &["date signed", "signed", "signature date", "signed date"]),
    TERRITORIES,
    TERRITORIES_EXCEPT,
    MEDIA,
    MEDIA_EXCEPT,
    STARTS,
    TERM,
    COUNTING,
    LONG_STOP,
    Field::new(
        "fee_minor",
        "Fee",
        Holds::Money,
        &["cost", "price", "amount", "licence fee", "license fee", "total", "fee agreed"],
    ),
    Field::new("currency", "Currency", Holds::Currency, &["ccy", "curr"]),
    day("payment_due", "Payment due", &["due", "pay by", "payment date", "due date"]),
    text("credit_line", "Credit line", &["credit", "credit wording", "on screen credit"]),
    yes_no("allows_promotion", "Allows promotion", &["promotion", "promo", "publicity", "trailers"]),
    text("conditions", "Conditions", &["terms", "restrictions", "special conditions"]),
    text("notes", "Notes", &["note", "comments", "comment", "remarks"]),
];

const DELIVERABLE_STATES: &[Choice] = &[
    word("not_started", "not started", &["no", "to do", "todo", "open", "outstanding", "none"]),
    word("in_work", "in work", &["in progress", "started", "wip", "doing", "pending"]),
    word("ready", "ready", &["done", "complete", "completed", "finished"]),
    word("sent", "sent", &["delivered", "submitted", "uploaded"]),
    word("accepted", "accepted", &["approved", "passed", "signed off", "yes"]),
    word("rejected", "rejected", &["failed", "refused", "returned"]),
    word("waived", "waived", &["not needed", "n a", "not required"]),
];

pub(super) const DELIVERABLES: &[Field] = &[
    one("episode_id", "Episode", Named::Episodes, &["ep", "episode number", "programme", "episode title"]).required(),
    one("specification_id", "Specification", Named::Specifications, &["spec", "delivery specification", "broadcaster"]),
    text("item", "Item", &["deliverable", "name", "description", "what", "delivery item"]).required(),
    day("due_on", "Due on", &["due", "due date", "deadline", "delivery date"]),
    one("owner_id", "Who sees to it", Named::Members, &["owner", "responsible", "assigned to", "assignee", "who"]),
    choice("status", "State", DELIVERABLE_STATES, &["status", "progress"]).default("not_started"),
    text("status_note", "Note on the state", &["status note", "reason"]),
    text("notes", "Notes", &["note", "comments", "comment", "remarks"]),
];
