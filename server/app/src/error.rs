//! What goes wrong, said once. `OpError` is what an operation may answer; `ApiError` is its form at the HTTP edge:
//! problem details (RFC 9457) with a closed set of codes. A cause never reaches the client: it is logged, and the
//! answer carries the request's id.

use actix_web::http::StatusCode;
use actix_web::http::header::{ETAG, RETRY_AFTER};
use actix_web::{HttpResponse, ResponseError};
use chrono::{DateTime, Utc};
use diesel::result::{DatabaseErrorKind, Error as DieselError};
use serde::Serialize;
use utoipa::ToSchema;

tokio::task_local! {
    /// Id of the request being served; set by the outermost middleware.
    pub static REQUEST_ID: uuid::Uuid;
}

/// What kind of fault it is. Clients switch on this; the set is closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Code {
    BadRequest,
    Invalid,
    Unauthenticated,
    NotAllowed,
    NotFound,
    MethodNotAllowed,
    Conflict,
    UnsafeState,
    Stale,
    PreconditionRequired,
    TooLarge,
    UnsupportedType,
    RateLimited,
    Unavailable,
    Internal,
}

impl Code {
    /// The HTTP status and the short title that go with the code.
    fn status(self) -> (StatusCode, &'static str) {
        match self {
            Self::BadRequest => (StatusCode::BAD_REQUEST, "That was not accepted"),
            Self::Invalid => (
                StatusCode::UNPROCESSABLE_ENTITY,
                "Some fields need a change",
            ),
            Self::Unauthenticated => (StatusCode::UNAUTHORIZED, "Please sign in"),
            Self::NotAllowed => (StatusCode::FORBIDDEN, "Your role does not allow this"),
            Self::NotFound => (StatusCode::NOT_FOUND, "Not found"),
            Self::MethodNotAllowed => (StatusCode::METHOD_NOT_ALLOWED, "Not possible here"),
            Self::Conflict => (StatusCode::CONFLICT, "That does not fit what is there"),
            Self::UnsafeState => (StatusCode::CONFLICT, "That is not safe now"),
            Self::Stale => (
                StatusCode::PRECONDITION_FAILED,
                "Somebody else changed this",
            ),
            Self::PreconditionRequired => (
                StatusCode::PRECONDITION_REQUIRED,
                "Say which version you changed",
            ),
            Self::TooLarge => (StatusCode::PAYLOAD_TOO_LARGE, "Too large"),
            Self::UnsupportedType => (
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "That kind of file is not taken",
            ),
            Self::RateLimited => (StatusCode::TOO_MANY_REQUESTS, "Too many tries"),
            Self::Unavailable => (StatusCode::SERVICE_UNAVAILABLE, "Not reachable just now"),
            Self::Internal => (
                StatusCode::INTERNAL_SERVER_ERROR,
                "Something went wrong here",
            ),
        }
    }
}

/// One field that needs a change: where it is (JSON Pointer, RFC 6901) and what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct FieldError {
    /// JSON Pointer into the body, for instance `/grants/0/term`.
    pub pointer: String,
    pub detail: String,
}

impl FieldError {
    pub fn new(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self {
            pointer: pointer.into(),
            detail: detail.into(),
        }
    }
}

/// The body of every 4xx and 5xx answer.
#[derive(Debug, Serialize, ToSchema)]
pub struct Problem {
    #[serde(rename = "type")]
    pub kind: &'static str,
    pub title: &'static str,
    pub status: u16,
    pub code: Code,
    pub detail: String,
    /// Id of the request, to be quoted when asking for help.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instance: Option<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<FieldError>,
    /// With `stale`, where it is one record: as it is now, who changed it and when.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub current: Option<serde_json::Value>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changed_by: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changed_at: Option<DateTime<Utc>>,
}

/// What an operation may answer instead of doing its work. Nothing was changed when one of these comes back.
#[derive(Debug, thiserror::Error)]
pub enum OpError {
    #[error("{0}")]
    BadRequest(String),
    #[error("some fields need a change")]
    Invalid(Vec<FieldError>),
    #[error("please sign in")]
    Unauthenticated,
    #[error("{0}")]
    NotAllowed(String),
    #[error("{0} was not found")]
    NotFound(&'static str),
    #[error("{0}")]
    Conflict(String),
    #[error("{0}")]
    UnsafeState(String),
    #[error("somebody else changed this record")]
    Stale(Box<Stale>),
    /// What was decided on is no longer what was looked at.
    #[error("{0}")]
    Changed(String),
    #[error("send If-Match with the version that you changed")]
    PreconditionRequired,
    #[error("{0}")]
    TooLarge(String),
    #[error("{0}")]
    UnsupportedType(String),
    #[error("too many tries; wait {0} seconds")]
    RateLimited(u64),
    #[error("{0}")]
    Unavailable(&'static str),
    #[error("database: {0}")]
    Database(DieselError),
    #[error("{0}")]
    Internal(String),
}

/// The other version, when two people changed one record.
#[derive(Debug)]
pub struct Stale {
    pub current: serde_json::Value,
    pub version: i32,
    pub changed_by: Option<String>,
    pub changed_at: Option<DateTime<Utc>>,
}

impl OpError {
    /// One field that needs a change.
    pub fn field(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::Invalid(vec![FieldError::new(pointer, detail)])
    }
}

impl From<DieselError> for OpError {
    fn from(error: DieselError) -> Self {
        match &error {
            DieselError::DatabaseError(DatabaseErrorKind::ClosedConnection, _) => {
                Self::Unavailable(
                    "The database is not reachable just now. Nothing was saved; please try again.",
                )
            }
            DieselError::DatabaseError(kind, info) if waited(kind, info.message()) => {
                tracing::warn!(%error, "database.waited");
                Self::Unavailable(
                    "Somebody else was changing the same just now. Nothing was saved; please try again.",
                )
            }
            DieselError::DatabaseError(DatabaseErrorKind::UniqueViolation, info) => {
                unique(info.constraint_name().unwrap_or_default())
            }
            DieselError::DatabaseError(DatabaseErrorKind::ForeignKeyViolation, info) => {
                Self::Conflict(format!(
                    "A record that this one refers to is not there, or others still refer to it ({}).",
                    info.table_name().unwrap_or("unknown table")
                ))
            }
            DieselError::DatabaseError(DatabaseErrorKind::CheckViolation, info) => {
                Self::Conflict(format!(
                    "A value is outside of what is allowed ({}).",
                    info.constraint_name().unwrap_or("unnamed rule")
                ))
            }
            _ => Self::Database(error),
        }
    }
}

/// Whether a transaction was given up because of another one: the two waited for each other, or this one too long.
/// diesel has no kind for these, so PostgreSQL's own words tell; `db::pool` asks for them in English.
fn waited(kind: &DatabaseErrorKind, message: &str) -> bool {
    match kind {
        DatabaseErrorKind::SerializationFailure => true,
        DatabaseErrorKind::Unknown => {
            matches!(
                message,
                "deadlock detected" | "canceling statement due to lock timeout"
            )
        }
        _ => false,
    }
}

/// Uniqueness is decided by the database; this says it in words, at the field.
fn unique(constraint: &str) -> OpError {
    let (pointer, detail) = match constraint {
        "users_email" => ("/email", "This address is already in use."),
        "episodes_number" => (
            "/number",
            "The series already has an episode with this number.",
        ),
        "drives_label" => ("/label", "The series already has a drive with this label."),
        "cards_name" => ("/name", "The series already has a card with this name."),
        other => return OpError::Conflict(format!("There is already such a record ({other}).")),
    };
    OpError::field(pointer, detail)
}

impl From<diesel_async::pooled_connection::deadpool::PoolError> for OpError {
    fn from(error: diesel_async::pooled_connection::deadpool::PoolError) -> Self {
        tracing::error!(%error, "database.unreachable");
        Self::Unavailable(
            "The database is not reachable just now. Nothing was saved; please try again.",
        )
    }
}

/// An operation's fault on its way to the client.
#[derive(Debug)]
pub struct ApiError(pub OpError);

impl<E: Into<OpError>> From<E> for ApiError {
    fn from(error: E) -> Self {
        Self(error.into())
    }
}

impl std::fmt::Display for ApiError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

impl ApiError {
    fn code(&self) -> Code {
        match &self.0 {
            OpError::BadRequest(_) => Code::BadRequest,
            OpError::Invalid(_) => Code::Invalid,
            OpError::Unauthenticated => Code::Unauthenticated,
            OpError::NotAllowed(_) => Code::NotAllowed,
            OpError::NotFound(_) => Code::NotFound,
            OpError::Conflict(_) => Code::Conflict,
            OpError::UnsafeState(_) => Code::UnsafeState,
            OpError::Stale(_) | OpError::Changed(_) => Code::Stale,
            OpError::PreconditionRequired => Code::PreconditionRequired,
            OpError::TooLarge(_) => Code::TooLarge,
            OpError::UnsupportedType(_) => Code::UnsupportedType,
            OpError::RateLimited(_) => Code::RateLimited,
            OpError::Unavailable(_) => Code::Unavailable,
            OpError::Database(_) | OpError::Internal(_) => Code::Internal,
        }
    }
}

impl ResponseError for ApiError {
    fn status_code(&self) -> StatusCode {
        self.code().status().0
    }

    fn error_response(&self) -> HttpResponse {
        let code = self.code();
        let detail = match &self.0 {
            OpError::Database(_) | OpError::Internal(_) => {
                tracing::error!(error = %self.0, "request.failed");
                "Nothing was saved. Please try again; if it happens again, quote the number below."
                    .to_owned()
            }
            OpError::Stale(_) => {
                "Your change was not saved: somebody else changed this record since you opened it."
                    .to_owned()
            }
            other => sentence(&other.to_string()),
        };
        let mut problem = problem(code, detail);
        if let OpError::Invalid(errors) = &self.0 {
            problem.errors.clone_from(errors);
        }
        let mut answer = HttpResponse::build(self.status_code());
        if let OpError::Stale(stale) = &self.0 {
            problem.current = Some(stale.current.clone());
            problem.changed_by.clone_from(&stale.changed_by);
            problem.changed_at = stale.changed_at;
            answer.insert_header((ETAG, format!("\"{}\"", stale.version)));
        }
        match &self.0 {
            OpError::RateLimited(seconds) => {
                answer.insert_header((RETRY_AFTER, seconds.to_string()));
            }
            OpError::Unavailable(_) => {
                answer.insert_header((RETRY_AFTER, "5"));
            }
            _ => {}
        }
        answer
            .content_type("application/problem+json; charset=utf-8")
            .json(problem)
    }
}

/// A problem with no more than a code and a sentence.
pub fn problem(code: Code, detail: impl Into<String>) -> Problem {
    let (status, title) = code.status();
    Problem {
        kind: "about:blank",
        title,
        status: status.as_u16(),
        code,
        detail: detail.into(),
        instance: REQUEST_ID.try_with(ToString::to_string).ok(),
        errors: Vec::new(),
        current: None,
        changed_by: None,
        changed_at: None,
    }
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let mut out: String = chars
        .next()
        .map(|c| c.to_uppercase().to_string())
        .unwrap_or_default();
    out.push_str(chars.as_str());
    if !out.ends_with(['.', '?', '!']) {
        out.push('.');
    }
    out
}
