//! Everything that needs PostgreSQL, in one program, so that the server is linked once.

mod api;
mod jobs;
mod ops;
mod schema;
