//! The demonstration: an invented series in the week before its first lock, told so that every state of clearance is
//! in it. Made through the same operations as everything else, from the files in `server/app/demo`; the drives are
//! written here and read by the real command. Days are counted from the day of loading, so that it never grows old.

mod accounts;
mod book;
mod custody;
mod days;
mod footage;
mod lock;
mod log;
mod media;
mod papers;
mod program;
mod shots;
mod steps;

use std::path::PathBuf;

use anyhow::{Context, Result, bail};

use crate::app::App;
use crate::ops::demo as ops;

pub use accounts::SignIn;

/// What is chosen on the command line.
#[derive(Clone, Debug)]
pub struct Options {
    /// Where the drives' folders are written.
    pub folder: PathBuf,
    /// The command `waybill`.
    pub program: PathBuf,
    /// Gives everybody of the demo the printed password again.
    pub reset_passwords: bool,
}

/// How a load went.
#[derive(Clone, Debug)]
pub struct Loaded {
    pub sign_ins: Vec<SignIn>,
    /// Whether it was all there before, so that nothing was changed.
    pub was_there: bool,
    /// What happened, for a person.
    pub notes: Vec<String>,
}

/// Loads the demonstration, goes on where an earlier load broke off, or finds it there.
///
/// # Errors
/// When other people work on this server already; when the command is missing or fails; the database's.
pub async fn load(app: &App, options: &Options) -> Result<Loaded> {
    let state = ops::state(app).await?;
    if state == ops::DemoState::Others {
        bail!(
            "people work on this server already, so the demonstration is not put among their records. Give it a \
             server of its own: another WAYBILL_VAR, or another DATABASE_URL."
        );
    }
    let secret = ops::secret(app).await?;
    let sign_ins = accounts::sign_ins(&secret)?;
    if state == ops::DemoState::Loaded {
        if options.reset_passwords {
            for one in &sign_ins {
                ops::set_password(app, &one.email, &one.password).await?;
            }
        }
        return Ok(Loaded {
            sign_ins,
            was_there: true,
            notes: Vec::new(),
        });
    }
    if !options.program.is_file() {
        bail!(
            "the command `waybill`, which scans the demonstration's drives, is not at {}. Build it \
             (`cargo build -p waybill_cli`), or name it with --program.",
            options.program.display()
        );
    }
    let notes = steps::all(app, options, &sign_ins)
        .await
        .context("the demonstration is not all there yet; the same command goes on where it was")?;
    ops::mark_loaded(app).await?;
    Ok(Loaded {
        sign_ins,
        was_there: false,
        notes,
    })
}

impl Loaded {
    /// Everything that a person needs to begin.
    pub fn text(&self, address: &str) -> String {
        use std::fmt::Write;
        let mut out = String::new();
        let mut line = |text: &str| {
            // Writing into a String can't fail.
            let _ = writeln!(out, "{text}");
        };
        for note in &self.notes {
            line(note);
        }
        line(if self.was_there {
            "The demonstration is there already; nothing was changed."
        } else {
            "The demonstration is loaded. All people, companies and places in it are invented."
        });
        line("");
        let wide = |pick: fn(&SignIn) -> usize| self.sign_ins.iter().map(pick).max().unwrap_or(0);
        let (role, email) = (
            wide(|one| one.role.chars().count()),
            wide(|one| one.email.chars().count()),
        );
        for one in &self.sign_ins {
            line(&format!(
                "  {:role$}  {:email$}  {}",
                one.role, one.email, one.password
            ));
        }
        line("");
        line(&format!(
            "Sign in at {address} (after the start of the server)."
        ));
        line(
            "  As the series producer: Today, then episode 1, its cut as a strip, and its clearance, worst first.",
        );
        line(
            "  As the editor: footage that is not logged yet. As the delivery contact: what is owed, and the report.",
        );
        line(
            "The passwords are this server's own. Whoever changed one gets the printed one back with --reset-passwords.",
        );
        out
    }
}
