//! The smaller commands: send a cut, fetch a report, try a rule, sign in.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::io::{IsTerminal, Write, stdin, stdout};
use std::path::Path;
use std::sync::atomic::AtomicBool;

use serde::Deserialize;
use serde_json::{Value, json};
use ureq::http::Method;
use waybill_domain::try_rule::{TryError, try_rule};
use waybill_domain::{media, timeline};

use crate::api::{Api, Ask, find_id};
use crate::args::{CutSend, Place, Report, ReportFormat, SignIn, Try, is_this_computer};
use crate::exit::{Exit, Failure};
use crate::output::{Output, grouped, print};
use crate::{folders, token};

/// The largest edit list or file of cases that is read.
const TEXT_LIMIT: u64 = 64 << 20;

/// A server with the token that is kept for it.
pub fn signed_in<'a>(
    server: &url::Url,
    stop: &'a AtomicBool,
    output: &'a Output,
) -> Result<Api<'a>, Failure> {
    let token = token::find(server, &folders::config()?)?;
    Ok(Api::new(server, Some(token), stop, output))
}

/// The id of a series named by id or title.
pub fn series_id(api: &Api<'_>, wanted: &str) -> Result<String, Failure> {
    find_id(
        &api.get(&["series"], &[("limit", "200")])?,
        wanted,
        "series",
        &["id", "title"],
    )
}

fn episode_id(api: &Api<'_>, series: &str, wanted: &str) -> Result<String, Failure> {
    let answer = api.get(&["series", series, "episodes"], &[("limit", "200")])?;
    find_id(&answer, wanted, "episode", &["id", "number", "title"])
}

fn place<'a>(
    place: &Place,
    episode: &str,
    stop: &'a AtomicBool,
    output: &'a Output,
) -> Result<(Api<'a>, String, String), Failure> {
    let api = signed_in(&place.to, stop, output)?;
    let series = series_id(&api, &place.series)?;
    let episode = episode_id(&api, &series, episode)?;
    Ok((api, series, episode))
}

/// `waybill cut send`.
pub fn cut_send(args: &CutSend, stop: &AtomicBool, output: &Output) -> Result<Exit, Failure> {
    let body = read_limited(&args.file)?;
    let (api, series, episode) = place(&args.place, &args.episode, stop, output)?;
    let stem = args.file.file_stem().unwrap_or_default().to_string_lossy();
    let rate = args.rate.map(|rate| rate.to_string());
    let mut query = vec![("name", args.name.as_deref().unwrap_or(&stem))];
    query.extend(rate.as_deref().map(|rate| ("rate", rate)));
    let content_type = match args.file.extension().and_then(OsStr::to_str) {
        Some("otio" | "json") => "application/json",
        _ => "text/plain",
    };
    let path = ["series", &series, "episodes", &episode, "cuts"];
    let ask = Ask {
        query: &query,
        content_type: Some(content_type),
        body: &body,
        ..Ask::default()
    };
    let cut: Value = api.ask(Method::POST, &path, ask)?.json()?;
    for warning in cut["warnings"].as_array().into_iter().flatten() {
        let text = warning["text"]
            .as_str()
            .or(warning.as_str())
            .unwrap_or_default();
        let at = warning["at"].as_str().unwrap_or_default();
        output.say(
            if at.is_empty() {
                text.to_owned()
            } else {
                format!("{at}: {text}")
            }
            .as_str(),
        );
    }
    let counts = cut["counts"]
        .as_object()
        .map_or_else(String::new, |counts| {
            let counts = counts.iter().map(|(name, count)| {
                let count = count.as_u64().map_or_else(|| count.to_string(), grouped);
                format!("{} {count}", name.replace('_', " "))
            });
            format!(": {}", counts.collect::<Vec<_>>().join(", "))
        });
    let name = cut["name"].as_str().unwrap_or(&stem);
    let text = format!("Cut \"{name}\" is on the server{counts}.");
    output.result(&text, &json!({ "event": "cut", "cut": cut }))?;
    Ok(Exit::Fine)
}

/// `waybill report`.
pub fn report(args: &Report, stop: &AtomicBool, output: &Output) -> Result<Exit, Failure> {
    if args.out.is_none()
        && stdout().is_terminal()
        && !matches!(args.format, ReportFormat::Json | ReportFormat::Csv)
    {
        let message = "This form is not for a terminal; give --out FILE.";
        return Err(Failure::new(Exit::Usage, message));
    }
    let (api, series, episode) = place(&args.place, &args.episode, stop, output)?;
    let form = match args.format {
        ReportFormat::Pdf => "report.pdf",
        ReportFormat::Xlsx => "report.xlsx",
        ReportFormat::Csv => "report.csv",
        ReportFormat::Json => "report.json",
    };
    let chosen = [("spec", args.spec.as_deref()), ("cut", args.cut.as_deref())];
    let query: Vec<_> = chosen
        .iter()
        .filter_map(|(name, id)| Some((*name, (*id)?)))
        .collect();
    let answer = api.get(&["series", &series, "episodes", &episode, form], &query)?;
    let Some(out) = &args.out else {
        print(&answer.body)?;
        return Ok(Exit::Fine);
    };
    let temporary = out.with_file_name(crate::scan::temporary_name(
        out.file_name().unwrap_or_default(),
    ));
    let written = File::create(&temporary)
        .and_then(|mut file| file.write_all(&answer.body).and_then(|()| file.sync_all()))
        .and_then(|()| fs::rename(&temporary, out));
    if written.is_err() {
        // what was begun is of no use; the first error is the one to tell
        let _ = fs::remove_file(&temporary);
    }
    written.map_err(Failure::writing(out.display()))?;
    let value = json!({ "event": "report", "file": out, "bytes": answer.body.len() });
    output.result(&format!("{} is written.", out.display()), &value)?;
    Ok(Exit::Fine)
}

fn read_limited(path: &Path) -> Result<Vec<u8>, Failure> {
    let metadata = fs::metadata(path).map_err(Failure::reading(path.display()))?;
    if metadata.is_dir() {
        return Err(Failure::new(
            Exit::NoInput,
            format!("{} is a folder.", path.display()),
        ));
    }
    if metadata.len() > TEXT_LIMIT {
        let message = format!(
            "{} is too large to be an edit list or cases.",
            path.display()
        );
        return Err(Failure::new(Exit::BadData, message));
    }
    fs::read(path).map_err(Failure::reading(path.display()))
}

/// `waybill try`.
pub fn try_one(args: &Try) -> Result<Exit, Failure> {
    let shown = args.file.display();
    let bad =
        |error: &dyn std::fmt::Display| Failure::new(Exit::BadData, format!("{shown}: {error}."));
    let answer = match args.rule.as_str() {
        "timeline" => {
            let name = args.file.file_name().unwrap_or_default().to_string_lossy();
            timeline::try_model(&read_limited(&args.file)?, &name, args.rate)
                .map_err(|e| bad(&e))?
        }
        "media" => {
            let file = File::open(&args.file).map_err(Failure::reading(&shown))?;
            let metadata = file.metadata().map_err(Failure::reading(&shown))?;
            if !metadata.is_file() {
                return Err(Failure::new(
                    Exit::NoInput,
                    format!("{shown} is not a file."),
                ));
            }
            media::try_facts(file, metadata.len()).map_err(|e| bad(&e))?
        }
        rule => {
            // a rule that does not exist is told before what the file may lack
            try_rule(rule, &json!([])).map_err(|error| unknown_rule(&error))?;
            let cases = serde_json::from_slice(&read_limited(&args.file)?);
            let cases = cases.map_err(|e| bad(&format!("it is not JSON: {e}")))?;
            try_rule(rule, &cases).map_err(|e| bad(&e))?
        }
    };
    print(format!("{answer:#}\n").as_bytes())?;
    Ok(Exit::Fine)
}

fn unknown_rule(error: &TryError) -> Failure {
    let message = format!("{error}; timeline and media can be tried too.");
    Failure::new(Exit::Usage, message)
}

/// `waybill sign-in`.
pub fn sign_in(args: &SignIn, stop: &AtomicBool, output: &Output) -> Result<Exit, Failure> {
    if args.to.scheme() != "https" && !is_this_computer(&args.to) {
        let message = "A password is only sent over https (or to this computer itself).";
        return Err(Failure::new(Exit::Usage, message));
    }
    let token = if args.token_stdin {
        line("")?
    } else {
        make_token(args, stop, output)?
    };
    let api = Api::new(&args.to, Some(token.clone()), stop, output);
    let me: Value = api.get(&["me"], &[])?.json()?;
    let path = token::keep(&args.to, &token, &folders::config()?)?;
    let name = me["user"]["name"].as_str().unwrap_or("you");
    let text = format!("Signed in as {name}. The token is in {}.", path.display());
    output.result(
        &text,
        &json!({ "event": "signed_in", "name": name, "file": path }),
    )?;
    Ok(Exit::Fine)
}

/// Signs in with e-mail and password, makes a device token, and ends the session.
fn make_token(args: &SignIn, stop: &AtomicBool, output: &Output) -> Result<String, Failure> {
    #[derive(Deserialize)]
    struct Made {
        token: String,
    }
    let email = line("E-mail: ")?;
    let password = match stdin().is_terminal() {
        true => {
            rpassword::prompt_password("Password: ").map_err(Failure::reading("The password"))?
        }
        false => line("")?,
    };
    let api = Api::new(&args.to, None, stop, output);
    let answer = api
        .post_json(
            &["sign-in"],
            &json!({ "email": email, "password": password }),
        )
        .map_err(|failure| match failure.exit {
            // a wrong address or password is refused as a bad request
            Exit::BadData => Failure::new(Exit::NotAllowed, failure.message),
            _ => failure,
        })?;
    let pairs = answer
        .cookies
        .iter()
        .filter_map(|cookie| cookie.split(';').next());
    let cookie = pairs.collect::<Vec<_>>().join("; ");
    let headers = [("Cookie", cookie.as_str())];
    let label = args
        .label
        .clone()
        .unwrap_or_else(|| format!("waybill on {}", computer()));
    let body = json!({ "label": label }).to_string();
    let ask = Ask {
        content_type: Some("application/json"),
        body: body.as_bytes(),
        headers: &headers,
        ..Ask::default()
    };
    let made: Made = api
        .ask(Method::POST, &["me", "device-tokens"], ask)?
        .json()?;
    // the token is there; a session that cannot be ended ends by itself
    let _ = api.ask(
        Method::POST,
        &["sign-out"],
        Ask {
            headers: &headers,
            ..Ask::default()
        },
    );
    Ok(made.token)
}

/// One line of standard input; the question only where somebody can see it.
fn line(question: &str) -> Result<String, Failure> {
    if stdin().is_terminal() && !question.is_empty() {
        print(question.as_bytes())?;
    }
    let mut text = String::new();
    stdin()
        .read_line(&mut text)
        .map_err(Failure::reading("Standard input"))?;
    match text.trim() {
        "" => Err(Failure::new(
            Exit::Usage,
            "Nothing was typed; nothing was done.",
        )),
        text => Ok(text.to_owned()),
    }
}

/// This computer's name, where the system has it in a file or variable.
pub fn computer() -> String {
    let name = fs::read_to_string("/etc/hostname").ok();
    let name = name.or_else(|| std::env::var("COMPUTERNAME").ok());
    let name = name.map(|name| name.trim().chars().take(60).collect::<String>());
    name.filter(|name| !name.is_empty())
        .unwrap_or_else(|| "this computer".to_owned())
}
