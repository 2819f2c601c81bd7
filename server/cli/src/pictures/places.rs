//! Where pictures go: to a server, or into a folder of this machine until there is one.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::Deserialize;
use serde_json::json;
use ureq::http::Method;

use super::clips::Clip;
use crate::api::{Api, Ask};
use crate::copy::write_whole;
use crate::exit::Failure;

/// What of a clip is lacking.
#[derive(Deserialize)]
pub struct Lacking {
    pub at: usize,
    pub file_id: String,
    pub lacks_poster: bool,
    pub lacks_contact_sheet: bool,
}

impl Lacking {
    pub fn kinds(&self) -> impl Iterator<Item = Kind> {
        let both = [
            (Kind::Poster, self.lacks_poster),
            (Kind::ContactSheet, self.lacks_contact_sheet),
        ];
        both.into_iter()
            .filter_map(|(kind, lacks)| lacks.then_some(kind))
    }
}

#[derive(Clone, Copy)]
pub enum Kind {
    Poster,
    ContactSheet,
}

impl Kind {
    const fn name(self) -> &'static str {
        match self {
            Self::Poster => "poster",
            Self::ContactSheet => "contact_sheet",
        }
    }
}

/// Pictures of copies' clips that no server has yet: a folder in which they are named by content.
pub struct Kept(PathBuf);

impl Kept {
    pub fn new(state: &Path) -> Self {
        Self(state.join("pictures"))
    }

    pub fn folder(&self) -> &Path {
        &self.0
    }

    fn path(&self, clip: &Clip, kind: Kind) -> PathBuf {
        let name = format!("{}-{}.{}.jpg", clip.xxh128, clip.size, kind.name());
        self.0.join(name)
    }

    fn lacks(&self, clip: &Clip, kind: Kind) -> bool {
        !self.path(clip, kind).is_file()
    }

    fn picture(&self, clip: &Clip, kind: Kind) -> Option<Vec<u8>> {
        fs::read(self.path(clip, kind)).ok()
    }

    fn keep(&self, clip: &Clip, kind: Kind, picture: &[u8]) -> io::Result<()> {
        fs::create_dir_all(&self.0)?;
        write_whole(&self.path(clip, kind), |out| out.write_all(picture))
    }

    fn forget(&self, clip: &Clip) {
        for kind in [Kind::Poster, Kind::ContactSheet] {
            // nothing depends on its being gone
            let _ = fs::remove_file(self.path(clip, kind));
        }
    }
}

/// A server's series, with what was kept for it; or a folder.
pub enum Place<'a> {
    Server {
        series: &'a str,
        api: &'a Api<'a>,
        kept: Option<&'a Kept>,
    },
    Folder(&'a Kept),
}

#[derive(Deserialize)]
struct LackingList {
    items: Vec<Lacking>,
}

impl Place<'_> {
    /// Those clips of a batch of which it has not every picture.
    pub fn lacking<'b>(&self, batch: &'b [Clip]) -> Result<Vec<(&'b Clip, Lacking)>, Failure> {
        let items = match self {
            Self::Folder(kept) => lacking_in(kept, batch),
            Self::Server { series, api, .. } => {
                let contents = batch
                    .iter()
                    .map(|clip| json!({ "xxh128": clip.xxh128, "size": clip.size }));
                let asked = json!({ "contents": contents.collect::<Vec<_>>() });
                let place = ["series", series, "pictures", "lacking"];
                api.post_json(&place, &asked)?.json::<LackingList>()?.items
            }
        };
        let pairs = items.into_iter();
        Ok(pairs
            .filter_map(|lacking| Some((batch.get(lacking.at)?, lacking)))
            .collect())
    }

    /// A picture that was made before.
    pub fn kept(&self, clip: &Clip, kind: Kind) -> Option<Vec<u8>> {
        match self {
            Self::Server { kept, .. } => kept.as_ref()?.picture(clip, kind),
            Self::Folder(_) => None,
        }
    }

    /// What was kept of clips that the server has everything of.
    pub fn forget(&self, batch: &[Clip]) {
        if let Self::Server {
            kept: Some(kept), ..
        } = self
        {
            batch.iter().for_each(|clip| kept.forget(clip));
        }
    }

    pub fn put(&self, clip: &Clip, file: &str, kind: Kind, picture: &[u8]) -> Result<(), Failure> {
        match self {
            Self::Server { series, api, .. } => {
                let place = ["series", series, "files", file, "pictures", kind.name()];
                let ask = Ask {
                    content_type: Some("image/jpeg"),
                    body: picture,
                    ..Ask::default()
                };
                api.ask(Method::PUT, &place, ask).map(drop)
            }
            Self::Folder(kept) => {
                let kept_in = kept.folder().display();
                kept.keep(clip, kind, picture)
                    .map_err(Failure::writing(kept_in))
            }
        }
    }
}

fn lacking_in(kept: &Kept, batch: &[Clip]) -> Vec<Lacking> {
    let clips = batch.iter().enumerate();
    let lacking = clips.map(|(at, clip)| Lacking {
        at,
        file_id: format!("{}-{}", clip.xxh128, clip.size),
        lacks_poster: kept.lacks(clip, Kind::Poster),
        lacks_contact_sheet: kept.lacks(clip, Kind::ContactSheet),
    });
    lacking
        .filter(|one| one.lacks_poster || one.lacks_contact_sheet)
        .collect()
}
