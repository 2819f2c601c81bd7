//! Scenes of an episode: cold open, titles and scenes, in their order.

use diesel::prelude::{AsChangeset, Insertable, Queryable, Selectable};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;
use waybill_domain::timecode::Label;

use super::record::{Fields, Reference};
use crate::error::FieldError;
use crate::ops::check;
use crate::{record_table, text_enum};

text_enum! {
    /// What part of the episode it is.
    pub enum SceneKind { ColdOpen = "cold_open", Titles = "titles", Scene = "scene" }
}

/// A scene of an episode.
#[derive(
    Clone, Debug, Serialize, Deserialize, ToSchema, Queryable, Selectable, Insertable, AsChangeset,
)]
#[diesel(table_name = super::schema::scenes, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub struct SceneFields {
    pub episode_id: Uuid,
    /// Place in the order of the episode, from 0.
    pub position: i32,
    pub kind: SceneKind,
    pub title: String,
    /// Label of its first frame in the cut, `HH:MM:SS:FF`, where known.
    #[schema(required)]
    pub starts_at: Option<String>,
    /// Label of the first frame after it.
    #[schema(required)]
    pub ends_at: Option<String>,
    #[serde(default)]
    pub notes: String,
}

impl Fields for SceneFields {
    fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        check::within(&mut faults, "/position", self.position.into(), 0, 9999);
        check::required(&mut faults, "/title", &self.title, 200);
        check::text(&mut faults, "/notes", &self.notes, 20_000);
        let mut sound = true;
        for (pointer, label) in [("/starts_at", &self.starts_at), ("/ends_at", &self.ends_at)] {
            if let Some(label) = label
                && let Err(fault) = label.parse::<Label>()
            {
                sound = false;
                faults.push(FieldError::new(pointer, format!("{fault}.")));
            }
        }
        // Labels of one form sort as they count, at any rate.
        let plain = |label: &String| label.replace([';', '.'], ":");
        if let (true, Some(start), Some(end)) = (sound, &self.starts_at, &self.ends_at)
            && plain(end) <= plain(start)
        {
            faults.push(FieldError::new(
                "/ends_at",
                format!("{end} is not after the beginning ({start})."),
            ));
        }
        faults
    }

    fn references(&self) -> Vec<Reference> {
        Reference::maybe("/episode_id", "episodes", Some(self.episode_id))
            .into_iter()
            .collect()
    }
}

record_table! {
    /// A scene.
    pub struct Scene { fields: SceneFields }
    table: scenes, kind: "scene", name: "The scene",
    search: [title, notes],
    used_by: &[],
}
