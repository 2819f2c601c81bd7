//! How a run ends: the exit codes, and failures as sentences for the person at the keyboard.

use std::fmt;

/// Exit codes. 64 and above follow the BSD `sysexits` numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Exit {
    /// All done, nothing amiss.
    Fine = 0,
    /// Done, and something differs from what was recorded.
    Differences = 1,
    /// Done, but something could not be read: the answer is not whole.
    CouldNotTell = 2,
    /// The command was not understood.
    Usage = 64,
    /// Input was read and makes no sense, or the server refused it.
    BadData = 65,
    /// A file or folder is not there, or empty.
    NoInput = 66,
    /// The server did not answer.
    Unreachable = 69,
    /// Output could not be written.
    CannotWrite = 73,
    /// Reading or writing failed on the way; the drive may be gone.
    Io = 74,
    /// Not signed in, or not allowed.
    NotAllowed = 77,
    /// Stopped with Ctrl-C.
    Stopped = 130,
}

/// The codes as `--help` and the README show them.
pub const TABLE: &str = "\
Exit codes:
    0  all done, nothing amiss
    1  done, and something differs from what was recorded (verify, scan --rehash),
       or nothing was found (find)
    2  done, but something could not be read or judged (copy: not all is verified everywhere); it is listed
   64  the command was not understood
   65  a file makes no sense, or the server refused it; or (copy) the name is taken by other content
   66  a file or folder is not there, or empty
   69  the server did not answer
   73  output could not be written; or (copy) a drive has no room
   74  reading or writing failed on the way; the drive may be gone
   77  not signed in, or not allowed
  130  stopped with Ctrl-C; the same command goes on where it was";

/// Why a run ended early.
#[derive(Debug)]
pub struct Failure {
    pub exit: Exit,
    /// What happened, where, and what to do.
    pub message: String,
}

impl Failure {
    pub fn new(exit: Exit, message: impl Into<String>) -> Self {
        Self {
            exit,
            message: message.into(),
        }
    }

    /// For `map_err` on writing `what`.
    pub fn writing(what: impl fmt::Display) -> impl FnOnce(std::io::Error) -> Self {
        move |error| {
            Self::new(
                Exit::CannotWrite,
                format!("{what} could not be written: {error}."),
            )
        }
    }

    /// For `map_err` on reading `what`.
    pub fn reading(what: impl fmt::Display) -> impl FnOnce(std::io::Error) -> Self {
        move |error| {
            let exit = match error.kind() {
                std::io::ErrorKind::NotFound => Exit::NoInput,
                _ => Exit::Io,
            };
            Self::new(exit, format!("{what} could not be read: {error}."))
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Failure {}
