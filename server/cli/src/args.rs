//! What can be typed. Nothing is checked here beyond its form; `run` does that.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use url::Url;
use waybill_domain::hashes::{HashKind, any_canonical};
use waybill_domain::timecode::Rate;

use crate::exit::{Exit, Failure, TABLE};

/// Waybill's command for drives: reads footage, sends what it found, and works rules without a server.
#[derive(Debug, Parser)]
#[command(name = "waybill", version, after_help = TABLE, after_long_help = TABLE)]
pub struct Cli {
    /// JSON lines on standard output instead of sentences
    #[arg(long, global = true)]
    pub json: bool,
    #[command(subcommand)]
    pub command: Command,
}

/// The address of a server. What is easily left out in front of it is named, rather than what a parser makes of the rest:
/// `localhost:8877` is an address of the scheme `localhost`.
fn server(text: &str) -> Result<Url, String> {
    let address = Url::parse(text);
    match &address {
        Ok(url) if matches!(url.scheme(), "http" | "https") => return Ok(url.clone()),
        Ok(url) if url.has_host() => {
            let scheme = url.scheme();
            return Err(format!(
                "the address of a server begins with http:// or https://, not with {scheme}://"
            ));
        }
        Err(error) if text.starts_with("http://") || text.starts_with("https://") => {
            return Err(format!("\"{text}\" is no address of a server: {error}"));
        }
        _ => {}
    }
    let host = text.trim_start_matches('/');
    let with = |scheme: &str| Url::parse(&format!("{scheme}://{host}"));
    match (with("http"), with("https")) {
        (Ok(plain), Ok(_)) if is_this_computer(&plain) => Err(format!(
            "http:// is missing in front; did you mean http://{host}?"
        )),
        (_, Ok(_)) => Err(format!(
            "https:// is missing in front; did you mean https://{host}?"
        )),
        (_, Err(error)) => Err(format!("\"{text}\" is no address of a server: {error}")),
    }
}

/// Whether an address names the computer on which it is typed.
pub fn is_this_computer(server: &Url) -> bool {
    matches!(server.host_str(), Some("localhost" | "127.0.0.1" | "[::1]"))
}

#[derive(Debug, Subcommand)]
pub enum Command {
    /// Read a drive's folder: hash every file, read media headers, write or send what was found
    Scan(Scan),
    /// Copy a card to several drives at once, and verify the copies by reading them back from the medium
    Copy(Box<Copy>),
    /// Read a folder again and compare it with its ASC MHL history, a plain list, or the server's catalogue
    Verify(Verify),
    /// Make, show and gather hash lists
    #[command(subcommand)]
    List(List),
    /// Find files by words and more, and say where each copy of them lies
    Find(Find),
    /// Send an edit list
    #[command(subcommand)]
    Cut(Cut),
    /// Fetch an episode's clearance and asset report
    Report(Report),
    /// Work a rule, an edit list or a media header on a file, without a server
    Try(Try),
    /// Sign in to a server and keep a device token for this computer
    SignIn(SignIn),
}

#[derive(Debug, Args)]
pub struct Scan {
    /// The drive's folder
    pub folder: PathBuf,
    /// The drive's label, as on its case
    #[arg(long)]
    pub drive: String,
    /// Server to send to
    #[arg(long, value_name = "URL", value_parser = server, requires = "series", env = "WAYBILL_SERVER")]
    pub to: Option<Url>,
    /// Series to send to: its id or its title
    #[arg(long, env = "WAYBILL_SERIES")]
    pub series: Option<String>,
    /// File to write the manifest to
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Hash types to make beside xxh128: xxh3, xxh64, md5, sha1, sha256, sha512, c4
    #[arg(long, value_name = "TYPES", value_delimiter = ',')]
    pub hash: Vec<HashKind>,
    /// Files read at the same time [default: one for each core, at most 4, of a solid-state drive; else 1]
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=32))]
    pub jobs: Option<u8>,
    /// Read every file again, untouched ones too, and say what is not as it was
    #[arg(long)]
    pub rehash: bool,
    /// Make no poster and contact sheet of clips, also where ffmpeg is installed
    #[arg(long)]
    pub no_pictures: bool,
    /// How roll folders are named; by default the series' pattern, or date, card, camera, words
    #[arg(long, value_name = "PATTERN")]
    pub roll_pattern: Option<String>,
    /// Folder for the journals of scans [default: the user's state folder]
    #[arg(long, value_name = "FOLDER", env = "WAYBILL_STATE")]
    pub state: Option<PathBuf>,
}

#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub struct Copy {
    #[command(subcommand)]
    pub then: Option<CopyThen>,
    #[command(flatten)]
    pub copy: CopyNow,
}

#[derive(Debug, Subcommand)]
pub enum CopyThen {
    /// Send what a receipt says to a server; again is harmless
    Send(CopySend),
}

#[derive(Debug, Args)]
pub struct CopySend {
    /// The receipt, the file that ends with .json
    pub receipt: PathBuf,
    /// Label of each drive, as on its case, in the order of the receipt [default: those given to the copy]
    #[arg(long, value_name = "LABEL")]
    pub drive: Vec<String>,
    #[command(flatten)]
    pub place: Place,
    /// Send no poster and contact sheet of clips
    #[arg(long)]
    pub no_pictures: bool,
    /// Folder that the copy kept its state in [default: the user's state folder]
    #[arg(long, value_name = "FOLDER", env = "WAYBILL_STATE")]
    pub state: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub struct CopyNow {
    /// The card's folder; it is only read
    #[arg(required = true)]
    pub card: Option<PathBuf>,
    /// What was typed without --to; told as that, where "subcommand" would puzzle
    #[arg(hide = true, value_name = "DRIVE")]
    pub without_to: Vec<PathBuf>,
    /// Folder of a drive that takes a copy; give it again for each further drive
    #[arg(long, value_name = "DRIVE", required = true)]
    pub to: Vec<PathBuf>,
    /// Name of the roll, and of the folder on each drive [default: the card folder's own name]
    #[arg(long, value_name = "NAME")]
    pub roll: Option<String>,
    /// How rolls are named; by default the series' pattern, or date, card, camera, words
    #[arg(long, value_name = "PATTERN")]
    pub roll_pattern: Option<String>,
    /// Label of each drive, as on its case, in the order of --to; needed for sending
    #[arg(long, value_name = "LABEL")]
    pub drive: Vec<String>,
    /// Server that is told of the copies when they are made
    #[arg(long, value_name = "URL", value_parser = server, requires = "series", requires = "drive")]
    pub to_server: Option<Url>,
    /// Series on that server: its id or its title
    #[arg(long, env = "WAYBILL_SERIES")]
    pub series: Option<String>,
    /// Hash types to make beside xxh128: xxh3, xxh64, md5, sha1, sha256, sha512, c4
    #[arg(long, value_name = "TYPES", value_delimiter = ',')]
    pub hash: Vec<HashKind>,
    /// Make no poster and contact sheet of clips, also where ffmpeg is installed
    #[arg(long)]
    pub no_pictures: bool,
    /// Folder for the receipt [default: the user's state folder]
    #[arg(long, value_name = "FOLDER")]
    pub receipt: Option<PathBuf>,
    /// Folder for what is kept to go on [default: the user's state folder]
    #[arg(long, value_name = "FOLDER", env = "WAYBILL_STATE")]
    pub state: Option<PathBuf>,
    #[command(flatten)]
    pub maker: Maker,
}

/// How files are read for a list.
#[derive(Debug, Args)]
pub struct Reading {
    /// Hash types, several in one reading [default: those recorded, or xxh128]
    #[arg(long, value_name = "TYPES", value_delimiter = ',')]
    pub hash: Vec<HashKind>,
    /// Leave out what fits, one line of .gitignore syntax; may be given more than once
    #[arg(long, value_name = "PATTERN")]
    pub ignore: Vec<String>,
    /// Files read at the same time [default: one for each core]
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=32))]
    pub jobs: Option<u8>,
}

/// Where an interrupted run goes on.
#[derive(Debug, Args)]
pub struct GoingOn {
    /// Begin again where an interrupted run would go on
    #[arg(long)]
    pub afresh: bool,
    /// Folder for what was read so far and for results that are not sent yet [default: the user's state folder]
    #[arg(long, value_name = "FOLDER", env = "WAYBILL_STATE")]
    pub state: Option<PathBuf>,
}

/// What a list says of who made it.
#[derive(Debug, Args)]
pub struct Maker {
    /// Who makes the list
    #[arg(long, value_name = "NAME")]
    pub author: Option<String>,
    /// Where it is made
    #[arg(long, value_name = "PLACE")]
    pub location: Option<String>,
    /// A note in the list
    #[arg(long, value_name = "TEXT")]
    pub comment: Option<String>,
}

#[derive(Debug, Args)]
pub struct Verify {
    /// The folder: one with a history, one inside such a folder, or one with several inside
    pub folder: PathBuf,
    /// Compare with a plain list (md5sum, sha1sum, sha256sum, xxhsum) instead of a history
    #[arg(long, value_name = "FILE")]
    pub list: Option<PathBuf>,
    /// Hash type of the plain list, where neither its lines nor its name say it
    #[arg(long, value_name = "TYPE", requires = "list")]
    pub list_hash: Option<HashKind>,
    /// Compare with what the server's catalogue knows of the drive with this label, and send the result
    #[arg(long, value_name = "LABEL", conflicts_with_all = ["list", "accept_renames"])]
    pub drive: Option<String>,
    /// Server of the catalogue [env: WAYBILL_SERVER]
    // not read from the environment here: there it must not turn a verification into one of a drive
    #[arg(long, value_name = "URL", value_parser = server, requires = "drive")]
    pub to: Option<Url>,
    /// Series on that server: its id or its title
    #[arg(long, env = "WAYBILL_SERIES")]
    pub series: Option<String>,
    /// Name of the folder when it was scanned, where it is another now
    #[arg(long, value_name = "NAME", requires = "drive")]
    pub scanned_as: Option<String>,
    /// Add no generation to the history; send nothing
    #[arg(long)]
    pub no_record: bool,
    /// Record files found under another name as renamed
    #[arg(long, conflicts_with = "no_record")]
    pub accept_renames: bool,
    /// File to write the account to: JSON lines, with every file
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    #[command(flatten)]
    pub reading: Reading,
    #[command(flatten)]
    pub maker: Maker,
    #[command(flatten)]
    pub going_on: GoingOn,
}

impl Verify {
    /// The server given, or that of the environment.
    pub fn server(&self) -> Result<Option<Url>, Failure> {
        if self.to.is_some() {
            return Ok(self.to.clone());
        }
        let set = std::env::var("WAYBILL_SERVER").ok();
        let set = set.as_deref().map(server).transpose();
        set.map_err(|error| {
            let message = format!("WAYBILL_SERVER: {error}.");
            Failure::new(Exit::Usage, message)
        })
    }
}

#[derive(Debug, Subcommand)]
pub enum List {
    /// Hash a folder and begin its ASC MHL history
    Make(ListMake),
    /// Write a plain list, as md5sum, sha1sum, sha256sum and xxhsum do
    Plain(ListPlain),
    /// Put all generations of a folder's histories into one list
    Gather(ListGather),
    /// Say what a folder's histories hold, without reading footage
    Show(ListShow),
}

#[derive(Debug, Args)]
pub struct ListMake {
    /// The folder
    pub folder: PathBuf,
    /// File to write the account to: JSON lines, with every file
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    #[command(flatten)]
    pub reading: Reading,
    #[command(flatten)]
    pub maker: Maker,
    #[command(flatten)]
    pub going_on: GoingOn,
}

#[derive(Debug, Args)]
pub struct ListPlain {
    /// The folder
    pub folder: PathBuf,
    /// File to write
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Write the type on every line: TYPE (name) = digest
    #[arg(long)]
    pub tagged: bool,
    #[command(flatten)]
    pub reading: Reading,
}

#[derive(Debug, Args)]
pub struct ListGather {
    /// The folder
    pub folder: PathBuf,
    /// File to write
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
}

#[derive(Debug, Args)]
pub struct ListShow {
    /// The folder
    pub folder: PathBuf,
    /// Show every record of one file, through its renames; its path below the folder
    #[arg(long, value_name = "PATH")]
    pub file: Option<String>,
}

#[derive(Debug, Subcommand)]
pub enum Cut {
    /// Send an edit list (EDL or OpenTimelineIO) of an episode
    Send(CutSend),
}

#[derive(Debug, Args)]
pub struct CutSend {
    /// The edit list
    pub file: PathBuf,
    /// Episode: its id, number or title
    #[arg(long)]
    pub episode: String,
    #[command(flatten)]
    pub place: Place,
    /// Name of the cut [default: the file's name]
    #[arg(long)]
    pub name: Option<String>,
    /// Frame rate, as 25, 23.976, 29.97df [default: the series' rate]
    #[arg(long)]
    pub rate: Option<Rate>,
}

/// Which series on which server.
#[derive(Debug, Args)]
pub struct Place {
    /// Server
    #[arg(long, value_name = "URL", value_parser = server, env = "WAYBILL_SERVER")]
    pub to: Url,
    /// Series: its id or its title
    #[arg(long, env = "WAYBILL_SERIES")]
    pub series: String,
}

#[derive(Debug, Args)]
pub struct Find {
    /// Words or parts of words of name, folders, roll or reel
    pub words: Vec<String>,
    #[command(flatten)]
    pub place: Place,
    /// A card's name or number, or a reel
    #[arg(long)]
    pub roll: Option<String>,
    /// The camera, as its cards have it: CAMA
    #[arg(long)]
    pub camera: Option<String>,
    /// Who is in it, by full or credited name; again for more people, who are in frame together
    #[arg(long, value_name = "NAME")]
    pub person: Vec<String>,
    /// The place that is logged in it
    #[arg(long = "place", value_name = "NAME")]
    pub at: Option<String>,
    /// Words that are said in it, where there are transcripts
    #[arg(long, value_name = "WORDS")]
    pub said: Option<String>,
    /// Day of shooting, as 2028-03-09
    #[arg(long, value_name = "DATE")]
    pub on: Option<chrono::NaiveDate>,
    /// A timecode that the file runs over, as 10:02:15:00
    #[arg(long)]
    pub timecode: Option<String>,
    /// A digest of any type: xxh128, xxh3, xxh64, md5, sha1, sha256, sha512, c4
    #[arg(long, value_name = "DIGEST", value_parser = any_canonical)]
    pub hash: Option<String>,
    /// Rank among the selects: 1 must be in, 2 strong, 3 usable
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=3))]
    pub rank: Option<u8>,
    /// The most files that are shown
    #[arg(long, default_value_t = 20, value_parser = clap::value_parser!(u16).range(1..=500))]
    pub limit: u16,
}

#[derive(Debug, Args)]
pub struct Report {
    /// Episode: its id, number or title
    pub episode: String,
    #[command(flatten)]
    pub place: Place,
    /// Form of the report
    #[arg(long, value_enum, default_value_t = ReportFormat::Pdf)]
    pub format: ReportFormat,
    /// File to write [default: standard output]
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Delivery specification, by id [default: the server's choice]
    #[arg(long)]
    pub spec: Option<String>,
    /// Cut, by id [default: the latest]
    #[arg(long)]
    pub cut: Option<String>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum ReportFormat {
    Pdf,
    Xlsx,
    Csv,
    Json,
}

#[derive(Debug, Args)]
pub struct Try {
    /// timeline, media, or a rule: coverage, reminder-instants, working-days, ages, releases,
    /// safe-to-wipe, cue-durations
    pub rule: String,
    /// The edit list, the media file, or a JSON file with one case or a list of them
    pub file: PathBuf,
    /// Frame rate of an edit list
    #[arg(long)]
    pub rate: Option<Rate>,
}

#[derive(Debug, Args)]
pub struct SignIn {
    /// Server
    #[arg(long, value_name = "URL", value_parser = server, env = "WAYBILL_SERVER")]
    pub to: Url,
    /// What the token is called in the list of your devices [default: this computer's name]
    #[arg(long)]
    pub label: Option<String>,
    /// Read a ready device token from standard input instead of e-mail and password
    #[arg(long)]
    pub token_stdin: bool,
}
