//! Codes of currencies against the table of another project.

use std::collections::BTreeSet;

use waybill_domain::costs::is_currency;

/// Units of funds, metals, baskets and codes for no currency, which nobody is paid in.
const NO_MONEY: &str =
    "BOV CHE CHW CLF COU MXV USN UYI UYW XAG XAU XBA XBB XBC XBD XDR XPD XPT XSU XTS XUA XXX";

/// From memory: codes that the standard gave out after the table was made.
const SINCE: [&str; 2] = ["XCG", "ZWG"];

/// Source: data/currencies.txt, the codes of iso-codes 4.15.0, which follows the lists of ISO 4217's agency.
#[test]
fn currencies_are_those_of_the_table() {
    let table = include_str!("data/currencies.txt");
    let lines: Vec<BTreeSet<&str>> = table
        .lines()
        .skip(1)
        .map(|line| line.split(' ').collect())
        .collect();
    let (current, historic) = (&lines[0], &lines[1]);
    let no_money: BTreeSet<&str> = NO_MONEY.split(' ').collect();
    for code in current {
        assert_eq!(is_currency(code), !no_money.contains(code), "{code}");
    }
    let letters = || (b'A'..=b'Z').map(char::from);
    let every = letters().flat_map(|a| {
        letters().flat_map(move |b| letters().map(move |c| String::from_iter([a, b, c])))
    });
    // Withdrawn, and not in the table; from memory.
    let unknown: Vec<String> = every
        .filter(|code| is_currency(code))
        .filter(|code| !current.contains(code.as_str()) && !historic.contains(code.as_str()))
        .filter(|code| !SINCE.contains(&code.as_str()))
        .collect();
    let known = [
        "BYR", "CYP", "EEK", "LTL", "LVL", "MRO", "MTL", "STD", "TMM", "TPE", "VEF", "YUM", "ZMK",
        "ZWD", "ZWN", "ZWR",
    ];
    assert_eq!(
        unknown, known,
        "withdrawn codes that the table does not hold"
    );
}
