//! A mail server that keeps what it takes and answers as it is told: enough of RFC 5321 for a real conversation.

use std::collections::VecDeque;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex};

use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::net::tcp::OwnedReadHalf;
use tokio::net::{TcpListener, TcpStream};

/// A mail as it came over the wire.
#[derive(Clone, Debug)]
pub struct Taken {
    pub from: String,
    pub to: String,
    pub data: String,
}

impl Taken {
    /// The value of a header.
    pub fn header(&self, name: &str) -> Option<&str> {
        let head = self.data.split("\r\n\r\n").next().unwrap_or_default();
        head.split("\r\n").find_map(|line| {
            let (known, value) = line.split_once(": ")?;
            known.eq_ignore_ascii_case(name).then_some(value)
        })
    }
}

#[derive(Default)]
struct State {
    taken: Vec<Taken>,
    /// Answers to the next mails' data, before it goes on with 250.
    answers: VecDeque<&'static str>,
    /// Answers to the next RCPT commands.
    recipients: VecDeque<&'static str>,
}

/// The server; it ends with the test's runtime.
#[derive(Clone)]
pub struct Sink {
    pub address: SocketAddr,
    state: Arc<Mutex<State>>,
}

impl Sink {
    /// Listens on a free port.
    pub async fn start() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let address = listener.local_addr().expect("an address");
        let sink = Self {
            address,
            state: Arc::default(),
        };
        let state = Arc::clone(&sink.state);
        tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                tokio::spawn(converse(stream, Arc::clone(&state)));
            }
        });
        sink
    }

    /// What came in, oldest first.
    pub fn taken(&self) -> Vec<Taken> {
        self.state.lock().expect("nobody panicked").taken.clone()
    }

    /// The next mail is answered like this after its data.
    pub fn answer(&self, line: &'static str) {
        let mut state = self.state.lock().expect("nobody panicked");
        state.answers.push_back(line);
    }

    /// The next recipient is answered like this.
    pub fn answer_recipient(&self, line: &'static str) {
        let mut state = self.state.lock().expect("nobody panicked");
        state.recipients.push_back(line);
    }

    /// The address for a server's settings.
    pub fn url(&self) -> String {
        format!("smtp://{}", self.address)
    }
}

/// One line; none at the end.
async fn line(lines: &mut BufReader<OwnedReadHalf>) -> Option<String> {
    let mut line = String::new();
    match lines.read_line(&mut line).await {
        Ok(1..) => Some(line),
        _ => None,
    }
}

async fn converse(stream: TcpStream, state: Arc<Mutex<State>>) {
    let (read, mut write) = stream.into_split();
    let mut lines = BufReader::new(read);
    let (mut from, mut to) = (String::new(), String::new());
    let mut answer = "220 sink.example ESMTP".to_owned();
    loop {
        if write
            .write_all(format!("{answer}\r\n").as_bytes())
            .await
            .is_err()
        {
            return;
        }
        let Some(said) = line(&mut lines).await else {
            return;
        };
        let said = said.trim_end();
        let verb = said.to_ascii_uppercase();
        answer = if verb.starts_with("EHLO") {
            "250-sink.example\r\n250-8BITMIME\r\n250 SMTPUTF8".into()
        } else if verb.starts_with("MAIL FROM") {
            from = said.to_owned();
            "250 2.1.0 ok".into()
        } else if verb.starts_with("RCPT TO") {
            to = said.to_owned();
            let told = state
                .lock()
                .expect("nobody panicked")
                .recipients
                .pop_front();
            told.unwrap_or("250 2.1.5 ok").into()
        } else if verb == "DATA" {
            if write.write_all(b"354 go on\r\n").await.is_err() {
                return;
            }
            let Some(data) = data(&mut lines).await else {
                return;
            };
            let mut state = state.lock().expect("nobody panicked");
            match state.answers.pop_front() {
                Some(answer) => answer.into(),
                None => {
                    let (from, to) = (from.clone(), to.clone());
                    state.taken.push(Taken { from, to, data });
                    "250 2.0.0 taken".into()
                }
            }
        } else if verb == "QUIT" {
            "221 2.0.0 bye".into()
        } else {
            "250 2.0.0 ok".into()
        };
    }
}

/// The lines up to the lone dot, doubled dots undone.
async fn data(lines: &mut BufReader<OwnedReadHalf>) -> Option<String> {
    let mut data = String::new();
    loop {
        let line = line(lines).await?;
        if line == ".\r\n" {
            return Some(data);
        }
        data.push_str(line.strip_prefix('.').unwrap_or(&line));
    }
}
