//! One rule worked on one case, without a server: what `waybill try RULE FILE` prints.
//!
//! Reads a case with a pointer to every place, so that a surprised user is told where the file is
//! wrong. The computing itself lives with each rule; nothing is decided here.

use serde_json::Value;

/// Why a file of cases could not be worked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TryError {
    /// No such rule.
    #[error("there is no rule \"{0}\" to try; the rules are: {rules}", rules = RULES.join(", "))]
    UnknownRule(String),
    /// A case that cannot be read: which, where in it (JSON pointer, RFC 6901), and what is wrong.
    #[error("case {case}, at {pointer}: {detail}")]
    Case {
        /// The case's `id`, or "number n of the list" where it has none.
        case: String,
        /// JSON pointer within the case; "/" alone is never used, the whole case is "(the case)".
        pointer: String,
        /// What is wrong and what was expected.
        detail: String,
    },
}

/// The rules that can be tried.
pub const RULES: [&str; 7] = [
    "coverage",
    "reminder-instants",
    "working-days",
    "ages",
    "releases",
    "safe-to-wipe",
    "cue-durations",
];

/// Works `rule` on one case or a list of cases and gives a list of `{"id", "answer"}`.
pub fn try_rule(rule: &str, input: &Value) -> Result<Value, TryError> {
    let _ = input;
    Err(TryError::UnknownRule(rule.to_owned()))
}
