//! Talking to the server: bearer token, patience while it does not answer, and its problem details
//! (RFC 9457) as sentences.

use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use ureq::Agent;
use ureq::http::{Method, Request, Response};
use url::Url;

use crate::exit::{Exit, Failure};
use crate::output::{Output, count_text};

/// Waits before the second, third … try, where the server names none (`Retry-After`, RFC 9110, 10.2.3).
const PATIENCE: [u64; 5] = [1, 2, 4, 8, 16];
/// The longest wait that a server can ask for.
const LONGEST: u64 = 60;
/// The most of an answer that is taken: a long report.
const ANSWER_LIMIT: u64 = 512 << 20;

/// A server and the right to ask it.
pub struct Api<'a> {
    agent: Agent,
    server: Url,
    token: Option<String>,
    stop: &'a AtomicBool,
    output: &'a Output,
}

/// An answer that is no error.
pub struct Answer {
    pub body: Vec<u8>,
    /// Cookies set, for signing in.
    pub cookies: Vec<String>,
}

impl Answer {
    pub fn json<T: DeserializeOwned>(&self) -> Result<T, Failure> {
        serde_json::from_slice(&self.body).map_err(|error| {
            let message = format!("The server's answer makes no sense to this version: {error}.");
            Failure::new(Exit::Unreachable, message)
        })
    }
}

/// A request that may be sent more than once.
#[derive(Clone, Copy, Default)]
pub struct Ask<'a> {
    pub query: &'a [(&'a str, &'a str)],
    pub content_type: Option<&'a str>,
    pub body: &'a [u8],
    pub headers: &'a [(&'a str, &'a str)],
}

impl<'a> Api<'a> {
    pub fn new(
        server: &Url,
        token: Option<String>,
        stop: &'a AtomicBool,
        output: &'a Output,
    ) -> Self {
        let config = Agent::config_builder()
            .http_status_as_error(false)
            .timeout_connect(Some(Duration::from_secs(10)))
            .timeout_global(Some(Duration::from_secs(300)))
            .max_redirects(0)
            .user_agent(concat!("waybill/", env!("CARGO_PKG_VERSION")))
            .build();
        Self {
            agent: config.into(),
            server: server.clone(),
            token,
            stop,
            output,
        }
    }

    pub fn get(&self, path: &[&str], query: &[(&str, &str)]) -> Result<Answer, Failure> {
        self.ask(
            Method::GET,
            path,
            Ask {
                query,
                ..Ask::default()
            },
        )
    }

    pub fn post_json(
        &self,
        path: &[&str],
        body: &impl serde::Serialize,
    ) -> Result<Answer, Failure> {
        let body = serde_json::to_vec(body).expect("own types are always JSON");
        let content_type = Some("application/json");
        self.ask(
            Method::POST,
            path,
            Ask {
                content_type,
                body: &body,
                ..Ask::default()
            },
        )
    }

    /// Asks, and asks again while the server does not answer or has too much to do.
    pub fn ask(&self, method: Method, path: &[&str], ask: Ask<'_>) -> Result<Answer, Failure> {
        let url = self.url(path, ask.query)?;
        let mut waits = PATIENCE.iter();
        loop {
            let (problem, asked_for) = match self.once(&method, &url, ask) {
                Ok(answer) => match settle(answer)? {
                    Settled::Answer(answer) => return Ok(answer),
                    Settled::Later(problem, wait) => (problem, wait),
                },
                Err(error) => {
                    let message =
                        format!("The server at {} does not answer: {error}.", self.server);
                    (Failure::new(Exit::Unreachable, message), None)
                }
            };
            let Some(usual) = waits.next() else {
                return Err(problem);
            };
            let seconds = asked_for.map_or(*usual, |asked| asked.clamp(*usual, LONGEST));
            self.output.say(&format!(
                "{problem} It is asked again in {}.",
                count_text(seconds, "second", "seconds")
            ));
            self.wait(Duration::from_secs(seconds))?;
        }
    }

    fn wait(&self, duration: Duration) -> Result<(), Failure> {
        let until = Instant::now() + duration;
        while Instant::now() < until {
            if self.stop.load(Ordering::Relaxed) {
                let message = "Stopped. The same command goes on from there.";
                return Err(Failure::new(Exit::Stopped, message));
            }
            thread::sleep(Duration::from_millis(50));
        }
        Ok(())
    }

    fn url(&self, path: &[&str], query: &[(&str, &str)]) -> Result<String, Failure> {
        let mut url = self.server.clone();
        url.path_segments_mut()
            .map_err(|()| Failure::new(Exit::Usage, format!("{} is no server.", self.server)))?
            .pop_if_empty()
            .push("api")
            .extend(path);
        if !query.is_empty() {
            url.query_pairs_mut().extend_pairs(query);
        }
        Ok(url.into())
    }

    fn once(&self, method: &Method, url: &str, ask: Ask<'_>) -> Result<Raw, ureq::Error> {
        let mut request = Request::builder().method(method).uri(url);
        // a call without a token must say that no other site's page made it
        request = match &self.token {
            Some(token) => request.header("Authorization", format!("Bearer {token}")),
            None => request.header("X-Waybill", "1"),
        };
        if let Some(content_type) = ask.content_type {
            request = request.header("Content-Type", content_type);
        }
        for (name, value) in ask.headers {
            request = request.header(*name, *value);
        }
        let response = match *method {
            Method::GET => self.agent.run(request.body(())?)?,
            _ => self.agent.run(request.body(ask.body)?)?,
        };
        read(response)
    }
}

struct Raw {
    status: u16,
    /// Seconds that the server asks to be left alone.
    retry_after: Option<u64>,
    answer: Answer,
}

fn read(mut response: Response<ureq::Body>) -> Result<Raw, ureq::Error> {
    let cookies = response.headers().get_all("set-cookie").iter();
    let cookies = cookies
        .filter_map(|value| value.to_str().ok().map(str::to_owned))
        .collect();
    let status = response.status().as_u16();
    let retry_after = response.headers().get("retry-after");
    let retry_after = retry_after.and_then(|value| value.to_str().ok()?.trim().parse().ok());
    let body = response
        .body_mut()
        .with_config()
        .limit(ANSWER_LIMIT)
        .read_to_vec()?;
    Ok(Raw {
        status,
        retry_after,
        answer: Answer { body, cookies },
    })
}

enum Settled {
    Answer(Answer),
    /// An error that may pass, and the wait that the server asks for.
    Later(Failure, Option<u64>),
}

fn settle(raw: Raw) -> Result<Settled, Failure> {
    let exit = match raw.status {
        200..=299 => return Ok(Settled::Answer(raw.answer)),
        429 | 502..=504 => {
            let failure = Failure::new(Exit::Unreachable, sentence(&raw));
            return Ok(Settled::Later(failure, raw.retry_after));
        }
        401 | 403 => Exit::NotAllowed,
        300..=399 => {
            let message = "The server sends this address on to another one; give that one to --to.";
            return Err(Failure::new(Exit::Unreachable, message));
        }
        400..=499 => Exit::BadData,
        _ => Exit::Unreachable,
    };
    Err(Failure::new(exit, sentence(&raw)))
}

/// Problem details; every field may be missing.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Problem {
    title: String,
    detail: Option<String>,
    instance: Option<String>,
    errors: Vec<ProblemPart>,
}

#[derive(Deserialize)]
struct ProblemPart {
    #[serde(default)]
    pointer: String,
    detail: String,
}

fn sentence(raw: &Raw) -> String {
    let Ok(problem) = serde_json::from_slice::<Problem>(&raw.answer.body) else {
        return format!(
            "The server answers with status {} and no explanation.",
            raw.status
        );
    };
    let said = problem
        .detail
        .filter(|detail| !detail.is_empty())
        .unwrap_or(problem.title);
    let mut text = format!("The server says: {}", said.trim_end_matches('.'));
    for part in problem.errors {
        let place = part.pointer.trim_start_matches('/').to_owned();
        let place = if place.is_empty() {
            place
        } else {
            format!("{place}: ")
        };
        text.push_str(&format!("; {place}{}", part.detail.trim_end_matches('.')));
    }
    text.push('.');
    match problem.instance.filter(|_| raw.status >= 500) {
        Some(request) => format!("{text} (request {request})"),
        None => text,
    }
}

/// The id of a record that a person names by id, or by one of the words that it is known by.
pub fn find_id(
    answer: &Answer,
    wanted: &str,
    what: &str,
    names: &[&str],
) -> Result<String, Failure> {
    #[derive(Deserialize)]
    struct List {
        items: Vec<Value>,
    }
    let items = answer.json::<List>()?.items;
    let is_named = |item: &&Value| {
        names.iter().any(|name| match &item[*name] {
            Value::String(text) => text.eq_ignore_ascii_case(wanted),
            Value::Number(number) => number.to_string() == wanted,
            _ => false,
        })
    };
    let found: Vec<&Value> = items.iter().filter(is_named).collect();
    match found.as_slice() {
        [one] => Ok(one["id"].as_str().unwrap_or_default().to_owned()),
        [] => Err(Failure::new(
            Exit::NoInput,
            format!("There is no {what} \"{wanted}\"."),
        )),
        _ => Err(Failure::new(
            Exit::BadData,
            format!("\"{wanted}\" could be more than one {what}; give its id."),
        )),
    }
}
