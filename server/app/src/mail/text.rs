//! The words of each mail, as plain text and as HTML made from the same sentences. No images, no outside links; user
//! text is escaped.

/// Subject and both bodies.
pub struct MailText {
    pub subject: String,
    pub text: String,
    pub html: String,
}

/// A mail of paragraphs with one link.
///
/// `subject` and `paragraphs` are plain text; line breaks in the subject are taken out, so that it can't add a header.
pub fn letter(subject: &str, paragraphs: &[String], link: Option<(&str, &str)>) -> MailText {
    let subject: String = subject
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let mut text = paragraphs.join("\n\n");
    let mut html = String::from(
        "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><body style=\"font:16px/1.5 sans-serif;\
         color:#1d2a30;background:#faf7f2;padding:24px\"><div style=\"max-width:36em\">",
    );
    for paragraph in paragraphs {
        html.push_str("<p>");
        html.push_str(&escape(paragraph).replace('\n', "<br>"));
        html.push_str("</p>");
    }
    if let Some((words, url)) = link {
        text.push_str(&format!("\n\n{words}:\n{url}"));
        html.push_str(&format!(
            "<p><a style=\"color:#0f5e66\" href=\"{}\">{}</a></p>",
            escape(url),
            escape(words)
        ));
    }
    text.push_str("\n\n-- \nWaybill\n");
    html.push_str("<p style=\"color:#5a676d\">Waybill</p></div></body></html>");
    MailText {
        subject,
        text,
        html,
    }
}

/// A link to choose a new password.
pub fn reset(name: &str, link: &str) -> MailText {
    letter(
        "Choose a new password",
        &[
            format!("Hello {name},"),
            "somebody, probably you, asked for a new password. The link works once, for 30 minutes.".into(),
            "If it was not you, do nothing: your password stays as it is.".into(),
        ],
        Some(("Choose a new password", link)),
    )
}

/// An invitation to join.
pub fn invitation(inviter: &str, organisation: &str, series: Option<&str>, link: &str) -> MailText {
    let what = series.map_or_else(
        || organisation.to_owned(),
        |series| format!("“{series}” ({organisation})"),
    );
    letter(
        &format!("{inviter} invites you to {what}"),
        &[
            "Hello,".into(),
            format!("{inviter} invites you to work on {what} in Waybill."),
            "The link works once, for seven days. There you choose your own password.".into(),
        ],
        Some(("Accept the invitation", link)),
    )
}

/// Word to a broadcaster's contact about one thing that was issued: what it is and of which episode, never what it says.
pub struct IssuedWord<'a> {
    pub name: &'a str,
    pub series: &'a str,
    /// `Credit list of episode 3, “The long race”`.
    pub what: &'a str,
    /// Who did it.
    pub by: &'a str,
    /// Where the receiver chooses whether to be told.
    pub account: &'a str,
    /// Where it lies.
    pub link: &'a str,
}

/// Something was issued to whoever reads this.
pub fn issued(word: &IssuedWord<'_>) -> MailText {
    let lines = [
        format!(
            "{} of “{}” was issued to you by {}.",
            word.what, word.series, word.by
        ),
        "It is kept as it was sent. You sign in to read it; nothing of it stands in this mail."
            .into(),
    ];
    about_issued(word, "issued", lines)
}

/// Something that was issued was sent in error.
pub fn taken_back(word: &IssuedWord<'_>) -> MailText {
    let lines = [
        format!(
            "{} of “{}” was taken back by {}: it had been sent in error.",
            word.what, word.series, word.by
        ),
        "If you have a copy of it, please do not use it. What holds stands under Issued.".into(),
    ];
    about_issued(word, "taken back", lines)
}

fn about_issued(word: &IssuedWord<'_>, done: &str, lines: [String; 2]) -> MailText {
    let mut paragraphs = vec![format!("Hello {},", word.name)];
    paragraphs.extend(lines);
    paragraphs.push(format!("You can choose no mail at {}", word.account));
    letter(
        &format!("{}: {} was {done}", word.series, word.what),
        &paragraphs,
        Some(("Open what was issued", word.link)),
    )
}

/// Makes text inert in HTML.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}
