//! The program `waybill-server`: what was typed, turned into one of a few jobs.

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use anyhow::{Context, Result};
use clap::{Parser, Subcommand};
use waybill_server::app::App;
use waybill_server::blobs::Blobs;
use waybill_server::clock::SystemClock;
use waybill_server::cluster::{Cluster, ClusterConfig};
use waybill_server::config::Config;
use waybill_server::mail::carrier::Carrier;
use waybill_server::{db, demo, http, run};

/// From camera cards to the proof that everything in the episode may be shown.
#[derive(Parser)]
#[command(name = "waybill-server", version, about)]
struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Serve pages and API, and do the background work.
    Serve,
    /// Bring the database up to this program, and stop.
    Migrate,
    /// Print the OpenAPI document; needs no database.
    Openapi,
    /// Load the demonstration series into an empty server, and print sign-ins that are ready.
    Demo(Demo),
}

#[derive(clap::Args)]
struct Demo {
    /// Folder for the demonstration's drives [default: `demo` in the server's folder]
    #[arg(long)]
    folder: Option<PathBuf>,
    /// The command `waybill`, which scans them [default: the one beside this program]
    #[arg(long)]
    program: Option<PathBuf>,
    /// Give everybody of the demonstration the printed password again
    #[arg(long)]
    reset_passwords: bool,
}

fn main() -> ExitCode {
    let args = Args::parse();
    run::logging();
    let outcome = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .context("no runtime")
        .and_then(|runtime| runtime.block_on(act(args.command)));
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("waybill-server: {error:#}");
            ExitCode::FAILURE
        }
    }
}

async fn act(command: Command) -> Result<()> {
    if matches!(command, Command::Openapi) {
        println!("{}", http::router::document().to_pretty_json()?);
        return Ok(());
    }
    let config = Config::read(|name| std::env::var(name).ok())?;
    private_folders(&config.var)?;
    let (url, cluster) = database(&config).await?;
    let outcome = with_database(command, config, &url).await;
    if let Some(cluster) = cluster {
        cluster
            .stop()
            .await
            .context("stopping the private PostgreSQL")?;
    }
    outcome
}

async fn with_database(command: Command, config: Config, url: &str) -> Result<()> {
    for step in db::migrate::up(url).await? {
        tracing::info!(step, "database.migrated");
    }
    match command {
        Command::Migrate | Command::Openapi => Ok(()),
        Command::Serve => run::serve(app(config, url).await?).await,
        Command::Demo(chosen) => load_demo(app(config, url).await?, chosen).await,
    }
}

async fn app(config: Config, url: &str) -> Result<App> {
    let pool = db::pool::open(url, config.pool_size).context("connection pool")?;
    let blobs = match &config.store {
        Some(address) => Blobs::s3(address),
        None => Blobs::folder(&config.var.join("documents")),
    }
    .map_err(|error| anyhow::anyhow!("document store: {error}"))?;
    let carrier = match &config.smtp_url {
        Some(url) => Carrier::smtp(url, &config.mail_from),
        None => Carrier::folder(config.var.join("mail"), &config.mail_from),
    }
    .map_err(|error| anyhow::anyhow!("mail: {error}"))?;
    Ok(App::new(config, pool, Arc::new(SystemClock), blobs, carrier).await?)
}

async fn load_demo(app: App, chosen: Demo) -> Result<()> {
    let beside = std::env::current_exe().context("where this program is")?;
    let folder = chosen.folder.unwrap_or_else(|| app.config.var.join("demo"));
    let options = demo::Options {
        folder: std::path::absolute(folder).context("the folder of the demonstration")?,
        program: chosen
            .program
            .unwrap_or_else(|| beside.with_file_name("waybill")),
        reset_passwords: chosen.reset_passwords,
    };
    let loaded = demo::load(&app, &options).await?;
    print!("{}", loaded.text(app.config.url.as_str()));
    app.pool.close();
    Ok(())
}

/// Uploaded papers and mails are for the server's eyes alone. The folder above them stays passable (not listable),
/// because the private PostgreSQL may run as another user below it.
fn private_folders(var: &Path) -> Result<()> {
    use std::os::unix::fs::DirBuilderExt;
    for (folder, mode) in [
        (var.to_owned(), 0o711),
        (var.join("documents"), 0o700),
        (var.join("mail"), 0o700),
    ] {
        std::fs::DirBuilder::new()
            .recursive(true)
            .mode(mode)
            .create(&folder)
            .with_context(|| format!("can't make the folder {}", folder.display()))?;
    }
    Ok(())
}

/// The database that is named, or a private cluster under `var` that goes with the server.
async fn database(config: &Config) -> Result<(String, Option<Cluster>)> {
    if let Some(url) = &config.database_url {
        return Ok((url.clone(), None));
    }
    let cluster = Cluster::start(ClusterConfig::product(config.var.join("pg")))
        .await
        .context("the private PostgreSQL did not start")?;
    Ok((cluster.url(), Some(cluster)))
}
