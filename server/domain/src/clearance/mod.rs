//! The heart: may everything in this cut be shown there, then, in that way?
//!
//! A [`Question`] holds a delivery's need and every element of a cut with the papers behind it; the
//! [`Answer`] says for each element in which needed cells it is covered, where not, and every reason
//! why, worst first. Nothing is looked up and no clock is asked: equal questions, equal answers.
//!
//! `question` and `answer` hold the types; both derive `ToSchema` and appear in API bodies.

mod answer;
mod question;

pub use answer::{
    Answer, CellGroup, Counts, ElementAnswer, End, FirstUse, Reason, ReasonCells, ReasonCode,
    State, Weight, Window,
};
pub use question::{
    AgeBand, Backing, Basis, Element, ElementKind, EpisodeEvents, Licence, LicenceStatus, Need,
    NotNeeded, Presence, Question, Release, Side, Use,
};
