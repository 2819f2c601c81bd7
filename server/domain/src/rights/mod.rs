//! May an element be shown there, in that medium, on those days? The algebra behind the answer.
//!
//! [`territory`] and [`medium`] say where, [`term`] when, [`coverage`] joins them into cells with
//! gaps (R1–R3), [`limits`] narrows and extends a grant (R4, R7). [`licence_terms`] and [`fees`] are what
//! else a licence says (R10, R11, R52). [`release`] holds what a person's or owner's form needs to hold (R19–R23), [`child_licence`] what a
//! council asks before a child is filmed (R25), and
//! [`basis`] the grounds other than a licence (R51, R54, R55). What an episode makes of all this is
//! in [`crate::clearance`].

pub mod basis;
pub mod basis_details;
pub mod child_licence;
pub mod coverage;
pub mod days;
pub mod fees;
pub mod licence_terms;
pub mod limits;
pub mod medium;
pub mod release;
pub mod release_details;
pub mod term;
pub mod territory;
mod territory_table;
