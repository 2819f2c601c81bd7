//! The statements that read hits. They differ in what they walk; what a file must fit is written once.
//!
//! Parameters: $1 series, $2 folders, $3 and $4 the hit before, $5 people, $6 place, $7 asset, $8 music, $9 how far
//! logged, $10 drive, $11 picture or sound, $12 roll, $13 rank, $14 kind of shot, $15 to $18 a timecode at each rate,
//! $19 digest, $20 at most so many, $26 and $21 folders and what words each leaves to be found, $22 and $23 names and
//! what words each has, $24 what all other folders leave to be found, $25 the record that is walked, $27
//! what was said in one line, as patterns. Null: no matter.
//! Words are bits of a number.

/// Whether the whole file is logged: `domain::footage::logged::of_file`, in SQL. A test holds the two together.
macro_rules! whole {
    () => {
        "coalesce((select bool_or(l.frame_in is null) or (f.frame_count is not null and \
         range_agg(int8range(l.frame_in, l.frame_out)) filter (where l.frame_in is not null) \
             @> int8range(0, f.frame_count)) \
         from log_entries l where l.file_id = f.id and l.deleted_at is null), false)"
    };
}

/// What a hit `h` must fit.
macro_rules! fitting {
    ($from:literal, $also:literal) => {
        concat!(
            "select h.folder, h.id from ",
            $from,
            " where ",
            $also,
            "($2::int8[] is null or h.folder = any($2)) \
             and ($3::int8 is null or (h.folder, h.id) > ($3, $4::uuid)) \
             and ($5::uuid[] is null or case when cardinality($5) = 1 then exists (select 1 from log_entries l \
                 where l.person_id = ($5)[1] and l.folder = h.folder and l.file_id = h.id and l.deleted_at is null) \
               else exists (select 1 from log_entries s where s.file_id = h.id and s.folder = h.folder \
                 and s.person_id = any($5) and s.deleted_at is null and s.presence in ('on_camera', 'background') \
                 and not exists (select 1 from unnest($5) p (id) where not exists (select 1 from log_entries l \
                   where l.person_id = p.id and l.folder = h.folder and l.file_id = h.id and l.deleted_at is null \
                     and l.presence in ('on_camera', 'background') and (l.frame_in is null \
                       or (l.frame_in <= coalesce(s.frame_in, 0) and l.frame_out > coalesce(s.frame_in, 0)))))) end) \
             and ($6::uuid is null or exists (select 1 from log_entries l where l.place_id = $6 \
                 and l.folder = h.folder and l.file_id = h.id and l.deleted_at is null)) \
             and ($7::uuid is null or exists (select 1 from log_entries l where l.asset_id = $7 \
                 and l.folder = h.folder and l.file_id = h.id and l.deleted_at is null)) \
             and ($8::uuid is null or exists (select 1 from log_entries l where l.music_id = $8 \
                 and l.folder = h.folder and l.file_id = h.id and l.deleted_at is null)) \
             and ($10::uuid is null or exists (select 1 from copies c where c.file_id = h.id and c.drive_id = $10 \
                 and c.state <> 'changed')) \
             and ($27::text[] is null or exists (select 1 from transcript_lines t where t.file_id = h.id \
                 and t.words like all($27))) \
             and (($13::int2 is null and $14::text is null) or exists (select 1 from shots s where s.file_id = h.id \
                 and s.deleted_at is null and ($13 is null or s.rank = $13) and ($14 is null or s.kind = $14))) \
             and (($9::text is null and $11::text is null and $12::text is null and $18::int8[] is null \
                 and $19::text is null) or exists (select 1 from files f where f.id = h.id \
               and ($11 is null or f.kind = $11) \
               and ($12 is null or lower(f.reel) = $12 or exists (select 1 from cards k where k.id = f.card_id \
                 and k.deleted_at is null and $12 in (lower(k.name), lower(k.number), lower(k.camera || k.number)))) \
               and ($18 is null or exists (select 1 from unnest($15::int4[], $16::int4[], $17::bool[], $18) \
                   t (num, den, drops, frame) where t.num = f.rate_num and t.den = f.rate_den \
                   and t.drops = coalesce(f.drop_frame, false) and f.start_frame <= t.frame \
                   and f.start_frame + f.frame_count > t.frame)) \
               and ($19 is null or $19 in (f.xxh128, f.hashes ->> 'md5', f.hashes ->> 'sha1', f.hashes ->> 'sha256', \
                   f.hashes ->> 'xxh64', f.hashes ->> 'xxh3', f.hashes ->> 'c4')) \
               and ($9 is null or case $9 \
                 when 'no' then not exists (select 1 from log_entries l where l.file_id = f.id \
                   and l.deleted_at is null) \
                 when 'yes' then ",
            whole!(),
            " else exists (select 1 from log_entries l where l.file_id = f.id and l.deleted_at is null) and not ",
            whole!(),
            " end))) order by h.folder, h.id limit $20"
        )
    };
}

/// Files by their folders, whatever they are called.
pub const BY_FOLDER: &str = fitting!("files h", "");

/// Files whose name has the words that their folder leaves to be found.
pub const BY_FOLDER_AND_NAME: &str = fitting!(
    "files h join unnest($26::int8[], $21::int4[]) b (key, need) on b.key = h.folder \
     left join unnest($22::int4[], $23::int4[]) n (id, mask) on n.id = h.name_id",
    "b.need & ~coalesce(n.mask, 0) = 0 and "
);

/// Files of these names, in any folder that leaves no more to be found than they say; folders that leave nothing are
/// left out.
pub const BY_NAME: &str = fitting!(
    "files h join unnest($22::int4[], $23::int4[]) n (id, mask) on n.id = h.name_id \
     left join unnest($26::int8[], $21::int4[]) b (key, need) on b.key = h.folder",
    "h.name_id = any($22) and b.need is distinct from 0 and coalesce(b.need, $24::int4) & ~n.mask = 0 and "
);

/// Files whose copies lie under other words than they were found under first. $21 are the words that a folder has.
pub const ELSEWHERE: &str = fitting!(
    "(select distinct o.folder, o.file_id as id from other_places o \
     left join unnest($26::int8[], $21::int4[]) b (key, mask) on b.key = o.place \
     left join unnest($22::int4[], $23::int4[]) n (id, mask) on n.id = o.name_id \
     where o.series_id = $1 and coalesce(b.mask, 0) | coalesce(n.mask, 0) = $24::int4) h",
    ""
);

/// Files with an entry about this person.
pub const BY_PERSON: &str = fitting!(
    "(select distinct l.folder, l.file_id as id from log_entries l where l.person_id = $25::uuid \
     and l.deleted_at is null) h",
    ""
);

/// Files with an entry about this place.
pub const BY_PLACE: &str = fitting!(
    "(select distinct l.folder, l.file_id as id from log_entries l where l.place_id = $25::uuid \
     and l.deleted_at is null) h",
    ""
);

/// Files with an entry about this asset.
pub const BY_ASSET: &str = fitting!(
    "(select distinct l.folder, l.file_id as id from log_entries l where l.asset_id = $25::uuid \
     and l.deleted_at is null) h",
    ""
);

/// Files with an entry about this piece of music.
pub const BY_MUSIC: &str = fitting!(
    "(select distinct l.folder, l.file_id as id from log_entries l where l.music_id = $25::uuid \
     and l.deleted_at is null) h",
    ""
);

/// Files that somebody logged.
pub const BY_LOG: &str = fitting!(
    "(select distinct l.folder, l.file_id as id from log_entries l where l.series_id = $1 \
     and l.deleted_at is null) h",
    ""
);

/// Files with a shot of this rank, and of this kind where one is asked for.
pub const BY_RANK: &str = fitting!(
    "(select distinct s.folder, s.file_id as id from shots s where s.series_id = $1 and s.rank = $13 \
     and s.deleted_at is null and ($14::text is null or s.kind = $14)) h",
    ""
);

/// Files with a shot of this kind.
pub const BY_SHOT: &str = fitting!(
    "(select distinct s.folder, s.file_id as id from shots s where s.series_id = $1 and s.kind = $14 \
     and s.deleted_at is null) h",
    ""
);

/// Files in which these words were said in one line.
pub const BY_SPOKEN: &str = fitting!(
    "(select distinct f.folder, f.id from transcript_lines t join files f on f.id = t.file_id \
     where t.series_id = $1 and t.words like all($27::text[])) h",
    ""
);

/// Files with this digest.
pub const BY_DIGEST: &str = fitting!(
    "(select folder, id from files where series_id = $1 and xxh128 = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'md5' and hashes ->> 'md5' = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'sha1' and hashes ->> 'sha1' = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'sha256' and hashes ->> 'sha256' = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'xxh64' and hashes ->> 'xxh64' = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'xxh3' and hashes ->> 'xxh3' = $19 \
     union select folder, id from files where series_id = $1 and hashes ? 'c4' and hashes ->> 'c4' = $19) h",
    ""
);
