//! Cells of tables with commas.

/// A cell by RFC 4180; one that a spreadsheet would take for a formula is made a text (CWE-1236).
pub fn cell(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let text = if formula {
        format!("'{text}")
    } else {
        text.to_owned()
    };
    if text.contains(['"', ',', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::cell;

    #[test]
    fn a_cell_is_never_a_formula_and_always_one_cell() {
        assert_eq!(cell("=1+1"), "'=1+1");
        assert_eq!(cell("a \"b\", c"), "\"a \"\"b\"\", c\"");
        assert_eq!(cell("QUAY 1/a.mov"), "QUAY 1/a.mov");
    }
}
