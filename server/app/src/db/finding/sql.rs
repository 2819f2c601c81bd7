//! The statements that read hits. They differ in what they walk; what a file must fit is written once.
//!
//! Parameters: $1 series, $2 folders, $3 and $4 the hit before, $5 people, $6 place, $7 asset, $8 music, $9 what was
//! said in one line, as patterns, $10 drive, $11 picture or sound, $12 roll, $13 rank, $14 kind of shot, $15 to $18 a
//! timecode at each rate, $19 digest, $20 at most so many, $26 and $21 folders and what words each leaves to be found,
//! $22 and $23 names and what words each has, $24 what all other folders leave to be found, $25 the record that is
//! walked, $27 the last folder that matters, $28 what a folder must say, as patterns. A statement names those that it needs.
//! Words are bits of a number.

use waybill_domain::footage::logged::Logged;

use crate::db::statement::{Statement, once, statement};

/// Whether the whole file is logged: `domain::footage::logged::of_file`, in SQL. A test holds the two together.
macro_rules! whole {
    () => {
        "coalesce((select bool_or(l.frame_in is null) or (f.frame_count is not null and \
         range_agg(int8range(l.frame_in, l.frame_out)) filter (where l.frame_in is not null) \
             @> int8range(0, f.frame_count)) \
         from log_entries l where l.file_id = f.id and l.deleted_at is null), false)"
    };
}

/// Files of some folders.
macro_rules! in_folders {
    () => {
        "(select folder, id, name_id from files where folder = any($2) offset 0) h"
    };
}

/// Files of some names with the words that each has, up to a folder where one is given. Each name is looked up: the
/// planner takes long over a list of thousands as a condition.
macro_rules! called {
    () => {
        "(select f.folder, f.id, c.mask from unnest($22::int4[], $23::int4[]) c (name, mask) \
         cross join lateral (select folder, id from files where name_id = c.name \
             and ($27::int8 is null or folder <= $27) offset 0) f offset 0) h"
    };
}

/// Files that hold a frame of a timecode, which stands in four lists: its rates as two numbers, drop-frame, frame. Clips
/// are looked for by about how long they are, as the index `files_timecode` has them.
macro_rules! holding {
    ($nums:literal, $dens:literal, $drops:literal, $frames:literal) => {
        concat!(
            "unnest(", $nums, "::int4[], ", $dens, "::int4[], ", $drops, "::bool[], ", $frames, "::int8[]) \
             t (num, den, drops, frame) \
             cross join (values (0, 100::int8), (1, 400), (2, 1600), (3, 6400), (4, 25600), (5, 102400), (6, 409600), \
                 (7, 4611686018427387904)) b (bucket, below) \
             cross join lateral (select f.folder, f.id from files f where f.series_id = $1 \
                 and f.rate_num = t.num and f.rate_den = t.den \
                 and width_bucket(f.frame_count, '{100,400,1600,6400,25600,102400,409600}'::bigint[]) = b.bucket \
                 and f.start_frame <= t.frame and f.start_frame > t.frame - b.below \
                 and f.start_frame + f.frame_count > t.frame and coalesce(f.drop_frame, false) = t.drops offset 0) f"
        )
    };
}
pub(super) use holding;

/// Whether an entry of the file's log says this.
macro_rules! logged_as {
    ($what:literal) => {
        concat!(
            "exists (select 1 from log_entries l where l.",
            $what,
            " and l.folder = h.folder and l.file_id = h.id and l.deleted_at is null)"
        )
    };
}

/// Which conditions a question puts on a hit beyond where it is walked. Only those are written into the statement: the
/// planner takes longer over conditions that never bite than the database over those that do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Fits {
    pub within: bool,
    pub behind: bool,
    pub people: Together,
    pub place: bool,
    pub asset: bool,
    pub music: bool,
    pub drive: bool,
    pub spoken: bool,
    pub rank: bool,
    pub shot: bool,
    pub kind: bool,
    pub roll: bool,
    pub timecode: bool,
    pub digest: bool,
    pub logged: Option<Logged>,
}

/// How many people are asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Together {
    #[default]
    Nobody,
    One,
    /// At one frame at least, as are several.
    Two,
    Several,
}

/// Where hits are read from, as `h`, and what must hold there.
#[derive(Clone, Copy, Debug)]
pub struct Walk {
    from: &'static str,
    also: &'static str,
    /// The condition that every hit of the walk fits already.
    holds: Holds,
    /// Whether one plan does for all values: not where words are told by lists, of which the planner must know the length,
    /// or where a folder that may be given bounds what is read.
    steady: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Holds {
    Nothing,
    Folders,
    Person,
    Two,
    Place,
    Asset,
    Music,
    Rank,
    Shot,
    RankedShot,
    Spoken,
    Timecode,
    Digest,
}

impl Walk {
    /// The statement that reads these hits, fitting the question, in their order. Where nothing more is asked for it is
    /// prepared once: there are few such texts.
    pub fn statement<'a>(self, fits: &Fits) -> Statement<'a> {
        let holds = |held| self.holds == held;
        let mut text = format!("select h.folder, h.id from {} where true", self.from);
        for condition in [self.also, if fits.behind { BEHIND } else { "" }] {
            if !condition.is_empty() {
                text.push_str(" and ");
                text.push_str(condition);
            }
        }
        let mut kept = self.steady;
        let mut and = |wanted: bool, condition: &str| {
            if wanted {
                kept = false;
                text.push_str(" and ");
                text.push_str(condition);
            }
        };
        and(fits.within && !holds(Holds::Folders), "h.folder = any($2)");
        and(
            fits.people == Together::One && !holds(Holds::Person),
            ONE_PERSON,
        );
        and(fits.people == Together::Two && !holds(Holds::Two), PEOPLE);
        and(fits.people == Together::Several, PEOPLE);
        and(
            fits.place && !holds(Holds::Place),
            logged_as!("place_id = $6"),
        );
        and(
            fits.asset && !holds(Holds::Asset),
            logged_as!("asset_id = $7"),
        );
        and(
            fits.music && !holds(Holds::Music),
            logged_as!("music_id = $8"),
        );
        and(
            fits.drive,
            "exists (select 1 from copies c where c.file_id = h.id and c.drive_id = $10 and c.state <> 'changed')",
        );
        and(
            fits.spoken && !holds(Holds::Spoken),
            "exists (select 1 from transcript_lines t join transcripts r on r.id = t.transcript_id \
             where t.file_id = h.id and r.deleted_at is null and t.words like all($9))",
        );
        let marked = match (fits.rank, fits.shot) {
            (true, true) if holds(Holds::RankedShot) => "",
            (true, false) if holds(Holds::Rank) => "",
            (false, true) if holds(Holds::Shot) => "",
            (true, true) => " and s.rank = $13 and s.kind = $14",
            (true, false) => " and s.rank = $13",
            (false, true) => " and s.kind = $14",
            (false, false) => "",
        };
        if !marked.is_empty() {
            let shot =
                "exists (select 1 from shots s where s.file_id = h.id and s.deleted_at is null";
            and(true, &format!("{shot}{marked})"));
        }
        let mut file = String::new();
        for (wanted, condition) in [
            (fits.kind, " and f.kind = $11"),
            (fits.roll, OF_ROLL),
            (fits.timecode && !holds(Holds::Timecode), AT_TIMECODE),
            (fits.digest && !holds(Holds::Digest), WITH_DIGEST),
            (fits.logged == Some(Logged::No), NOT_LOGGED),
            (fits.logged == Some(Logged::Yes), WHOLE),
            (fits.logged == Some(Logged::Partly), PARTLY),
        ] {
            if wanted {
                file.push_str(condition);
            }
        }
        if !file.is_empty() {
            and(
                true,
                &format!("exists (select 1 from files f where f.id = h.id{file})"),
            );
        }
        text.push_str(" order by h.folder, h.id limit $20");
        if kept { statement(text) } else { once(text) }
    }
}

const BEHIND: &str = "(h.folder, h.id) > ($3, $4)";

const ONE_PERSON: &str = logged_as!("person_id = ($5)[1]");

/// All of them in frame at the first frame of one of their entries.
const PEOPLE: &str = "exists (select 1 from log_entries s where s.file_id = h.id and s.folder = h.folder \
     and s.person_id = any($5) and s.deleted_at is null and s.presence in ('on_camera', 'background') \
     and not exists (select 1 from unnest($5) p (id) where not exists (select 1 from log_entries l \
       where l.person_id = p.id and l.folder = h.folder and l.file_id = h.id and l.deleted_at is null \
         and l.presence in ('on_camera', 'background') and (l.frame_in is null \
           or (l.frame_in <= coalesce(s.frame_in, 0) and l.frame_out > coalesce(s.frame_in, 0))))))";

const OF_ROLL: &str = " and (lower(f.reel) = $12 or exists (select 1 from cards k where k.id = f.card_id \
     and k.deleted_at is null and $12 in (lower(k.name), lower(k.number), lower(k.camera || k.number))))";

const AT_TIMECODE: &str = " and exists (select 1 from unnest($15, $16, $17, $18) t (num, den, drops, frame) \
     where t.num = f.rate_num and t.den = f.rate_den and t.drops = coalesce(f.drop_frame, false) \
     and f.start_frame <= t.frame and f.start_frame + f.frame_count > t.frame)";

const WITH_DIGEST: &str = " and $19 in (f.xxh128, f.hashes ->> 'md5', f.hashes ->> 'sha1', f.hashes ->> 'sha256', \
     f.hashes ->> 'xxh64', f.hashes ->> 'xxh3', f.hashes ->> 'c4')";

const NOT_LOGGED: &str =
    " and not exists (select 1 from log_entries l where l.file_id = f.id and l.deleted_at is null)";

const WHOLE: &str = concat!(" and ", whole!());

const PARTLY: &str = concat!(
    " and exists (select 1 from log_entries l where l.file_id = f.id and l.deleted_at is null) and not ",
    whole!()
);

/// Files by their folders, whatever they are called.
pub const BY_FOLDER: Walk = Walk {
    from: "files h",
    also: "h.folder = any($2)",
    holds: Holds::Folders,
    steady: true,
};

// Where names are read, `offset 0` keeps the planner from walking the order of hits instead: it takes names for commoner
// than they are, and would read the whole catalogue for the few that there are.

/// Files whose name has the words that their folder leaves to be found.
pub const BY_FOLDER_AND_NAME: Walk = Walk {
    from: concat!(
        in_folders!(),
        " join unnest($26::int8[], $21::int4[]) b (key, need) on b.key = h.folder \
         left join unnest($22::int4[], $23::int4[]) n (id, mask) on n.id = h.name_id"
    ),
    also: "b.need & ~coalesce(n.mask, 0) = 0",
    holds: Holds::Folders,
    steady: false,
};

/// Files with one of these names, in these folders.
pub const BY_FOLDER_AND_ONE_NAME: Walk = Walk {
    from: concat!(
        in_folders!(),
        " join unnest($22::int4[]) n (id) on n.id = h.name_id"
    ),
    also: "",
    holds: Holds::Folders,
    steady: false,
};

/// Files with one of these names, in any folder.
pub const BY_ONE_NAME: Walk = Walk {
    from: called!(),
    also: "",
    holds: Holds::Nothing,
    steady: false,
};

/// Files of these names in folders that say what the names leave to be found, $28 as patterns. The folder of each is
/// looked up: the planner takes folders with a word for rarer than they are, and would go through all files for each.
pub const BY_NAME_IN_FOLDERS_SAYING: Walk = Walk {
    from: concat!(
        called!(),
        " cross join lateral (select from folders o where o.key = h.folder and o.words like all($28) limit 1) o"
    ),
    also: "",
    holds: Holds::Nothing,
    steady: false,
};

/// Files of these names, in any folder that leaves no more to be found than they say; folders that leave nothing are
/// left out.
pub const BY_NAME: Walk = Walk {
    from: concat!(
        called!(),
        " left join unnest($26::int8[], $21::int4[]) b (key, need) on b.key = h.folder"
    ),
    also: "b.need is distinct from 0 and coalesce(b.need, $24::int4) & ~h.mask = 0",
    holds: Holds::Nothing,
    steady: false,
};

/// Files whose copies lie under other words than they were found under first. $21 are the words that a folder has.
pub const ELSEWHERE: Walk = Walk {
    from: "(select distinct o.folder, o.file_id as id from other_places o \
     left join unnest($26::int8[], $21::int4[]) b (key, mask) on b.key = o.place \
     left join unnest($22::int4[], $23::int4[]) n (id, mask) on n.id = o.name_id \
     where o.series_id = $1 and coalesce(b.mask, 0) | coalesce(n.mask, 0) = $24::int4) h",
    also: "",
    holds: Holds::Nothing,
    steady: false,
};

/// Files with an entry about this person.
pub const BY_PERSON: Walk = Walk {
    from: "(select distinct l.folder, l.file_id as id from log_entries l where l.person_id = $25::uuid \
     and l.series_id = $1 and l.deleted_at is null) h",
    also: "",
    holds: Holds::Person,
    steady: true,
};

/// Files with entries about the first two of several people, in frame at one frame at least. Both are walked in the order
/// of hits, until there are enough.
macro_rules! two_people {
    () => {
        "(select distinct a.folder, a.file_id as id from log_entries a join log_entries b on b.folder = a.folder \
         and b.file_id = a.file_id and b.person_id = ($5)[2] and b.series_id = $1 and b.deleted_at is null \
         and b.presence in ('on_camera', 'background') \
         where a.person_id = ($5)[1] and a.series_id = $1 and a.deleted_at is null \
         and a.presence in ('on_camera', 'background') and (a.frame_in is null or b.frame_in is null \
             or (a.frame_in < b.frame_out and b.frame_in < a.frame_out))) h"
    };
}

/// Files with two people in frame together.
pub const BY_TWO_PEOPLE: Walk = Walk {
    from: two_people!(),
    also: "",
    holds: Holds::Two,
    steady: true,
};

/// Files with more than two: the first two are.
pub const BY_PEOPLE: Walk = Walk {
    from: two_people!(),
    also: "",
    holds: Holds::Nothing,
    steady: false,
};

/// Files with an entry about this place.
pub const BY_PLACE: Walk = Walk {
    from: "(select distinct l.folder, l.file_id as id from log_entries l where l.place_id = $25::uuid \
     and l.series_id = $1 and l.deleted_at is null) h",
    also: "",
    holds: Holds::Place,
    steady: true,
};

/// Files with an entry about this asset.
pub const BY_ASSET: Walk = Walk {
    from: "(select distinct l.folder, l.file_id as id from log_entries l where l.asset_id = $25::uuid \
     and l.series_id = $1 and l.deleted_at is null) h",
    also: "",
    holds: Holds::Asset,
    steady: true,
};

/// Files with an entry about this piece of music.
pub const BY_MUSIC: Walk = Walk {
    from: "(select distinct l.folder, l.file_id as id from log_entries l where l.music_id = $25::uuid \
     and l.series_id = $1 and l.deleted_at is null) h",
    also: "",
    holds: Holds::Music,
    steady: true,
};

/// Files that somebody logged.
pub const BY_LOG: Walk = Walk {
    from: "(select distinct l.folder, l.file_id as id from log_entries l where l.series_id = $1 \
     and l.deleted_at is null) h",
    also: "",
    holds: Holds::Nothing,
    steady: true,
};

/// Files with a shot of this rank.
pub const BY_RANK: Walk = Walk {
    from: "(select distinct s.folder, s.file_id as id from shots s where s.series_id = $1 and s.rank = $13 \
     and s.deleted_at is null) h",
    also: "",
    holds: Holds::Rank,
    steady: true,
};

/// Files with a shot of this rank and kind.
pub const BY_RANKED_SHOT: Walk = Walk {
    from: "(select distinct s.folder, s.file_id as id from shots s where s.series_id = $1 and s.rank = $13 \
     and s.kind = $14 and s.deleted_at is null) h",
    also: "",
    holds: Holds::RankedShot,
    steady: true,
};

/// Files with a shot of this kind.
pub const BY_SHOT: Walk = Walk {
    from: "(select distinct s.folder, s.file_id as id from shots s where s.series_id = $1 and s.kind = $14 \
     and s.deleted_at is null) h",
    also: "",
    holds: Holds::Shot,
    steady: true,
};

/// Files in which these words were said in one line.
pub const BY_SPOKEN: Walk = Walk {
    from: "(select distinct f.folder, f.id from transcript_lines t join files f on f.id = t.file_id \
     join transcripts r on r.id = t.transcript_id where t.series_id = $1 and r.deleted_at is null \
     and t.words like all($9::text[])) h",
    also: "",
    holds: Holds::Spoken,
    steady: false,
};

/// Files that hold the timecode.
pub const BY_TIMECODE: Walk = Walk {
    from: concat!(
        "(select f.folder, f.id from ",
        holding!("$15", "$16", "$17", "$18"),
        " offset 0) h"
    ),
    also: "",
    holds: Holds::Timecode,
    steady: true,
};

/// Files with this digest of 32 hexadecimal digits.
pub const BY_DIGEST: Walk = Walk {
    from: "(select folder, id from files where series_id = $1 and xxh128 = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'md5' and hashes ->> 'md5' = $19) h",
    also: "",
    holds: Holds::Digest,
    steady: true,
};

/// Files with this digest of 16 hexadecimal digits.
pub const BY_SHORT_DIGEST: Walk = Walk {
    from: "(select folder, id from files where series_id = $1 and hashes ? 'xxh64' and hashes ->> 'xxh64' = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'xxh3' and hashes ->> 'xxh3' = $19) h",
    also: "",
    holds: Holds::Digest,
    steady: true,
};

/// Files with this digest of more digits.
pub const BY_LONG_DIGEST: Walk = Walk {
    from: "(select folder, id from files where series_id = $1 and hashes ? 'sha1' and hashes ->> 'sha1' = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'sha256' and hashes ->> 'sha256' = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'c4' and hashes ->> 'c4' = $19) h",
    also: "",
    holds: Holds::Digest,
    steady: true,
};
