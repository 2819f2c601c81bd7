//! The API over real HTTP: what each route answers, to whom.

mod account;
mod board;
mod document;
mod documents;
mod edge;
mod matrix;
mod records;
mod rules;
mod samples;
mod team;
