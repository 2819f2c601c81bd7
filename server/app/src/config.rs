//! Typed settings, read from the environment and checked once, at the start.

use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;

use url::Url;

/// What the server needs to know before it starts.
#[derive(Clone, Debug)]
pub struct Config {
    /// Address to listen on. `WAYBILL_LISTEN`.
    pub listen: SocketAddr,
    /// Address under which people reach the server; links in mails start with it. `WAYBILL_URL`.
    pub url: Url,
    /// Folder for what the server keeps itself. `WAYBILL_VAR`.
    pub var: PathBuf,
    /// An existing PostgreSQL, or none for the private cluster under `var`. `DATABASE_URL`.
    pub database_url: Option<String>,
    /// SMTP server, or none to write mails as files under `var/mail`. `WAYBILL_SMTP_URL`.
    pub smtp_url: Option<String>,
    /// Sender of mails. `WAYBILL_MAIL_FROM`.
    pub mail_from: String,
    /// `s3://bucket/prefix`, or none for a folder under `var`. `WAYBILL_STORE`.
    pub store: Option<String>,
    /// Folder of the built front end. `WAYBILL_WEB`.
    pub web: PathBuf,
    /// Proxies whose `X-Forwarded-For` is believed. `WAYBILL_TRUSTED_PROXIES`, comma separated.
    pub trusted_proxies: Vec<IpAddr>,
    /// Connections to the database. `WAYBILL_POOL`.
    pub pool_size: usize,
}

/// A setting that can't be used: its name, and what is wrong with it.
#[derive(Debug, thiserror::Error)]
#[error("{name}: {fault}")]
pub struct ConfigError {
    name: &'static str,
    fault: String,
}

impl Config {
    /// Reads the settings through `get` (in the program: the environment).
    ///
    /// # Errors
    /// The first setting that is malformed, by name.
    pub fn read(get: impl Fn(&str) -> Option<String>) -> Result<Self, ConfigError> {
        let get = |name: &str| get(name).filter(|value| !value.trim().is_empty());
        let listen: SocketAddr = parse("WAYBILL_LISTEN", get("WAYBILL_LISTEN"), "127.0.0.1:8790")?;
        let url: Url = parse(
            "WAYBILL_URL",
            get("WAYBILL_URL"),
            &format!("http://localhost:{}", listen.port()),
        )?;
        if !matches!(url.scheme(), "http" | "https") || url.host_str().is_none() {
            return Err(ConfigError {
                name: "WAYBILL_URL",
                fault: format!("`{url}` is not an http or https address"),
            });
        }
        let proxies = get("WAYBILL_TRUSTED_PROXIES").unwrap_or_default();
        let trusted_proxies = proxies
            .split(',')
            .map(str::trim)
            .filter(|part| !part.is_empty())
            .map(|part| {
                part.parse().map_err(|error| ConfigError {
                    name: "WAYBILL_TRUSTED_PROXIES",
                    fault: format!("`{part}` is not an IP address ({error})"),
                })
            })
            .collect::<Result<_, _>>()?;
        let host = url.host_str().unwrap_or("localhost").to_owned();
        Ok(Self {
            listen,
            var: get("WAYBILL_VAR").unwrap_or_else(|| "var".into()).into(),
            database_url: get("DATABASE_URL"),
            smtp_url: get("WAYBILL_SMTP_URL"),
            mail_from: get("WAYBILL_MAIL_FROM")
                .unwrap_or_else(|| format!("Waybill <waybill@{host}>")),
            store: get("WAYBILL_STORE"),
            web: get("WAYBILL_WEB")
                .unwrap_or_else(|| "web/dist".into())
                .into(),
            trusted_proxies,
            pool_size: parse("WAYBILL_POOL", get("WAYBILL_POOL"), "16")?,
            url,
        })
    }

    /// Whether people reach the server over TLS, so that cookies may and must be marked so.
    pub fn is_https(&self) -> bool {
        self.url.scheme() == "https"
    }

    /// An address on this server for a mail or a page: `path` starts with a slash.
    pub fn link(&self, path: &str) -> String {
        format!("{}{path}", self.url.as_str().trim_end_matches('/'))
    }
}

fn parse<T>(name: &'static str, value: Option<String>, default: &str) -> Result<T, ConfigError>
where
    T: std::str::FromStr,
    T::Err: std::fmt::Display,
{
    let text = value.unwrap_or_else(|| default.to_owned());
    text.trim().parse().map_err(|error: T::Err| ConfigError {
        name,
        fault: format!("`{text}` can't be read: {error}"),
    })
}
