//! What stands in the outbox.

use crate::app::TestApp;

/// A mail of the outbox.
#[derive(Debug, Clone)]
pub struct Mail {
    pub kind: String,
    pub recipient: String,
    pub subject: String,
    pub text: String,
    pub html: String,
    pub state: String,
}

impl Mail {
    /// The secret in the mail's link: what stands after `#`.
    #[track_caller]
    pub fn secret(&self) -> String {
        self.text
            .split_once('#')
            .and_then(|(_, rest)| rest.split_whitespace().next())
            .unwrap_or_else(|| panic!("no link with a secret in {}", self.text))
            .to_owned()
    }
}

impl TestApp {
    /// All mails, oldest first.
    pub async fn mails(&self) -> Vec<Mail> {
        let rows = self
            .db
            .connect()
            .await
            .query(
                "select kind, recipient, subject, body_text, body_html, state from mails order by created_at, id",
                &[],
            )
            .await
            .expect("the outbox");
        rows.into_iter()
            .map(|row| Mail {
                kind: row.get(0),
                recipient: row.get(1),
                subject: row.get(2),
                text: row.get(3),
                html: row.get(4),
                state: row.get(5),
            })
            .collect()
    }
}
