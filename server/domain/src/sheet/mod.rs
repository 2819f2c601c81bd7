//! Lists that teams have already, as spreadsheets: cells to fields of a record and back.
//!
//! The bytes of a file are read elsewhere; here a grid of cells becomes rows of a kind of record by
//! a mapping that is guessed from the headings and then the person's to correct. Nothing that can
//! be read in two ways is guessed silently: it is an error of that cell until somebody decides.

pub mod cell;
pub mod dates;
pub mod delimited;
pub mod headings;
pub mod kinds;
pub mod lines;
pub mod lists;
pub mod mapping;
pub mod names;
pub mod number;
pub mod row;
pub mod rows;
pub mod serial;
pub mod several;
pub mod value;
pub mod write;

#[cfg(test)]
mod tests;

pub use cell::{Cell, GridRow, fold};
pub use kinds::{Field, Holds, SheetKind};
pub use mapping::{ColumnUse, SheetMapping};
