//! What this computer calls itself, so that a check of a drive says where it was made. Not told everywhere, which is
//! no fault.

/// The computer's name; none where the system does not tell.
pub fn name() -> Option<String> {
    let told = std::fs::read_to_string("/proc/sys/kernel/hostname")
        .ok()
        .or_else(|| std::env::var("HOSTNAME").ok())?;
    let name: String = told.trim().chars().take(200).collect();
    (!name.is_empty() && !name.chars().any(char::is_control)).then_some(name)
}
