//! How a mail leaves: by SMTP, as a file in a folder (the default without SMTP settings), or into memory for tests.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, SystemTime};

use chrono::{DateTime, Utc};
use lettre::message::header::{Header, HeaderName, HeaderValue};
use lettre::message::{Mailbox, MultiPart};
use lettre::transport::smtp::AsyncSmtpTransport;
use lettre::{AsyncTransport, Message, Tokio1Executor};

/// The library's own time limit covers connecting only; this one covers the whole conversation and is shorter than
/// a job's lease.
const LIMIT: Duration = Duration::from_secs(60);

/// A mail as it stands in the outbox.
#[derive(Clone, Debug)]
pub struct Letter {
    pub message_id: String,
    pub recipient: String,
    pub subject: String,
    pub text: String,
    pub html: String,
    pub created_at: DateTime<Utc>,
}

/// Why a mail did not leave.
#[derive(Debug, thiserror::Error)]
pub enum SendError {
    /// The server or the way to it is at fault; try the same mail later (RFC 5321 4.2.1: 4yz, or no connection).
    #[error("try later: {0}")]
    Later(String),
    /// This mail will never be taken.
    #[error("refused: {0}")]
    Refused(String),
}

/// A way for mails to leave.
#[derive(Clone)]
pub struct Carrier {
    way: Way,
    from: Mailbox,
}

#[derive(Clone)]
enum Way {
    Smtp(AsyncSmtpTransport<Tokio1Executor>),
    Folder(PathBuf),
    Memory(Arc<Mutex<Vec<Letter>>>),
}

/// Says that no person wrote it, so that no robot answers (RFC 3834).
#[derive(Clone)]
struct AutoSubmitted;

impl Header for AutoSubmitted {
    fn name() -> HeaderName {
        HeaderName::new_from_ascii_str("Auto-Submitted")
    }

    fn parse(_: &str) -> Result<Self, Box<dyn std::error::Error + Send + Sync>> {
        Ok(Self)
    }

    fn display(&self) -> HeaderValue {
        HeaderValue::new(Self::name(), "auto-generated".into())
    }
}

impl Carrier {
    /// By SMTP. TLS is demanded unless the server is on this machine or the address says otherwise (`?tls=`).
    ///
    /// # Errors
    /// In words, when the address or the sender can't be read.
    pub fn smtp(url: &str, from: &str) -> Result<Self, String> {
        let mut address =
            url::Url::parse(url).map_err(|error| format!("WAYBILL_SMTP_URL: {error}"))?;
        let local = matches!(
            address.host_str(),
            Some("localhost" | "127.0.0.1" | "[::1]")
        );
        let decided = address.query_pairs().any(|(name, _)| name == "tls");
        if address.scheme() == "smtp" && !local && !decided {
            address.query_pairs_mut().append_pair("tls", "required");
        }
        let transport = AsyncSmtpTransport::<Tokio1Executor>::from_url(address.as_str())
            .map_err(|error| format!("WAYBILL_SMTP_URL: {error}"))?
            .timeout(Some(Duration::from_secs(20)))
            .build();
        Ok(Self {
            way: Way::Smtp(transport),
            from: sender(from)?,
        })
    }

    /// As `.eml` files in a folder.
    ///
    /// # Errors
    /// In words, when the folder or the sender can't be used.
    pub fn folder(path: PathBuf, from: &str) -> Result<Self, String> {
        std::fs::create_dir_all(&path).map_err(|error| format!("{}: {error}", path.display()))?;
        Ok(Self {
            way: Way::Folder(path),
            from: sender(from)?,
        })
    }

    /// Into memory.
    ///
    /// # Errors
    /// In words, when the sender can't be read.
    pub fn memory(from: &str) -> Result<Self, String> {
        Ok(Self {
            way: Way::Memory(Arc::default()),
            from: sender(from)?,
        })
    }

    /// What was sent into memory; empty for the other ways.
    pub fn sent(&self) -> Vec<Letter> {
        match &self.way {
            Way::Memory(letters) => letters
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .clone(),
            Way::Smtp(_) | Way::Folder(_) => Vec::new(),
        }
    }

    /// Sends one mail to one recipient; one bad address never blocks another.
    ///
    /// # Errors
    /// See [`SendError`]. After a time-out it is not known whether the server took the mail; it is tried again under
    /// the same Message-ID.
    pub async fn send(&self, letter: &Letter) -> Result<String, SendError> {
        let message = self.message(letter)?;
        match &self.way {
            Way::Memory(letters) => {
                letters
                    .lock()
                    .unwrap_or_else(PoisonError::into_inner)
                    .push(letter.clone());
                Ok("kept in memory".into())
            }
            Way::Folder(path) => {
                let stem = letter
                    .message_id
                    .trim_matches(['<', '>'])
                    .split('@')
                    .next()
                    .unwrap_or("mail");
                let name = format!("{}-{stem}.eml", letter.created_at.format("%Y%m%dT%H%M%S"));
                let file = path.join(name);
                let part = file.with_extension("part");
                let later = |error: std::io::Error| {
                    SendError::Later(format!("{}: {error}", file.display()))
                };
                tokio::fs::write(&part, message.formatted())
                    .await
                    .map_err(later)?;
                tokio::fs::rename(&part, &file).await.map_err(later)?;
                Ok(format!("written to {}", file.display()))
            }
            Way::Smtp(transport) => by_smtp(transport, message).await,
        }
    }

    fn message(&self, letter: &Letter) -> Result<Message, SendError> {
        let refused = |error: &dyn std::fmt::Display| SendError::Refused(error.to_string());
        let to = letter
            .recipient
            .parse()
            .map_err(|error: lettre::address::AddressError| refused(&error))?;
        Message::builder()
            .message_id(Some(letter.message_id.clone()))
            .date(SystemTime::from(letter.created_at))
            .from(self.from.clone())
            .to(Mailbox::new(None, to))
            .subject(&letter.subject)
            .header(AutoSubmitted)
            .multipart(MultiPart::alternative_plain_html(
                letter.text.clone(),
                letter.html.clone(),
            ))
            .map_err(|error| refused(&error))
    }
}

async fn by_smtp(
    transport: &AsyncSmtpTransport<Tokio1Executor>,
    message: Message,
) -> Result<String, SendError> {
    let error = match tokio::time::timeout(LIMIT, transport.send(message)).await {
        Ok(Ok(answer)) => return Ok(answer.message().collect::<Vec<_>>().join(" ")),
        Ok(Err(error)) => error,
        Err(_) => {
            return Err(SendError::Later(
                "the mail server did not answer in time".into(),
            ));
        }
    };
    if !error.is_permanent() {
        return Err(SendError::Later(error.to_string()));
    }
    // A permanent answer to the greeting or to the sign-in is the server's trouble, not this mail's: then every mail
    // waits, rather than being burnt one by one.
    match tokio::time::timeout(LIMIT, transport.test_connection()).await {
        Ok(Ok(true)) => Err(SendError::Refused(error.to_string())),
        _ => {
            tracing::error!(%error, "mail.server_refuses");
            Err(SendError::Later(error.to_string()))
        }
    }
}

fn sender(from: &str) -> Result<Mailbox, String> {
    from.parse()
        .map_err(|error| format!("WAYBILL_MAIL_FROM: `{from}`: {error}"))
}
