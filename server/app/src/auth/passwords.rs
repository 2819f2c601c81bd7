//! Passwords: SP 800-63B-4's rules, Argon2id with OWASP's floor (19 MiB, 2 passes, 1 lane), few hashes at a time.

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use unicode_normalization::UnicodeNormalization;

use crate::app::App;
use crate::error::OpError;

/// Fewest characters, where there is no second factor.
pub const LEAST: usize = 15;
/// Most characters; all of them count.
pub const MOST: usize = 256;
/// Why a new password is refused, in words that help to choose another; none when it is fine.
///
/// `known` are words that others would try first: names, address, organisation.
pub fn fault(password: &str, known: &[&str]) -> Option<String> {
    let length = password.chars().count();
    if length < LEAST {
        return Some(format!(
            "{length} characters are too few: take at least {LEAST}. Four or five unrelated words do well."
        ));
    }
    if length > MOST {
        return Some(format!(
            "{length} characters are too many: at most {MOST} fit."
        ));
    }
    let mut words: Vec<&str> = known.to_vec();
    words.push("waybill");
    let strength = zxcvbn::zxcvbn(password, &words);
    if u8::from(strength.score()) >= 3 {
        let rest = without(password, &words);
        if u8::from(zxcvbn::zxcvbn(&rest, &[]).score()) >= 3 {
            return None;
        }
        return Some(
            "This one is little more than a name or an address that others know. Four or five unrelated words do well."
                .into(),
        );
    }
    let hint = strength
        .feedback()
        .and_then(|feedback| feedback.warning())
        .map(|warning| format!(" ({warning})"))
        .unwrap_or_default();
    Some(format!(
        "This one is among the first that somebody would try{hint}. Four or five unrelated words do well."
    ))
}

/// What is left of a password once the parts of known words are taken out of it, however often and in whatever order
/// they stand there: each repeat of a name looks to the estimate like a word of its own.
fn without(password: &str, known: &[&str]) -> String {
    let mut parts: Vec<String> = known
        .iter()
        .flat_map(|word| word.split(|c: char| !c.is_alphanumeric()))
        .filter(|part| part.chars().count() >= 3)
        .map(str::to_lowercase)
        .collect();
    parts.sort_by_key(|part| std::cmp::Reverse(part.len()));
    let mut rest = password.to_lowercase();
    for part in &parts {
        rest = rest.replace(part.as_str(), " ");
    }
    rest.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Hashes a password; it is brought to one Unicode form first, so that a phone and a laptop agree.
///
/// # Errors
/// `Unavailable` when too many wait already.
pub async fn hash(app: &App, password: &str) -> Result<String, OpError> {
    let password: String = password.nfkc().collect();
    hashing(app, move || {
        Argon2::default()
            .hash_password(password.as_bytes())
            .map(|hash| hash.to_string())
            .map_err(|error| OpError::Internal(format!("argon2: {error}")))
    })
    .await?
}

/// Whether the password fits the hash. Without a hash the same work is done, so that nobody can tell from the time
/// whether an address is known.
///
/// # Errors
/// `Unavailable` when too many wait already.
pub async fn fits(app: &App, password: &str, hash: Option<String>) -> Result<bool, OpError> {
    let password: String = password.nfkc().take(MOST * 4).collect();
    hashing(app, move || match hash {
        Some(hash) => PasswordHash::new(&hash).is_ok_and(|hash| {
            Argon2::default()
                .verify_password(password.as_bytes(), &hash)
                .is_ok()
        }),
        None => {
            let _ = Argon2::default().hash_password(password.as_bytes());
            false
        }
    })
    .await
}

async fn hashing<T: Send + 'static>(
    app: &App,
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, OpError> {
    let busy =
        OpError::Unavailable("Many people are signing in just now. Please try again in a moment.");
    if app.hashing_queue.available_permits() == 0 {
        return Err(busy);
    }
    let Ok(_place) = app.hashing_queue.try_acquire() else {
        return Err(busy);
    };
    let _turn = app
        .hashing
        .acquire()
        .await
        .map_err(|error| OpError::Internal(error.to_string()))?;
    tokio::task::spawn_blocking(work)
        .await
        .map_err(|error| OpError::Internal(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hand-made; the sort of words that SP 800-63B-4 section 3.1.1.2 calls context-specific.
    #[test]
    fn a_name_or_an_address_said_over_and_over_is_refused() {
        let known = [
            "Ada Admin",
            "ada.admin@breakwater.example",
            "Breakwater Films",
        ];
        for weak in [
            "ada admin ada admin",
            "Admin-Ada-Admin-Ada-1",
            "ada.admin@breakwater.example",
            "breakwater films breakwater",
            "adaadminadaadmin2029",
        ] {
            assert!(fault(weak, &known).is_some(), "{weak}");
        }
        for fine in ["four tides and a bell", "four tides and ada's bell tower"] {
            assert_eq!(fault(fine, &known), None, "{fine}");
        }
        assert_eq!(without("planning for adage", &known), "planning for ge");
    }
}
