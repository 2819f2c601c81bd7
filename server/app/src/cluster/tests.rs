//! The private cluster for real: every test makes one, with PostgreSQL's own programs.
#![expect(clippy::unwrap_used, reason = "tests")]

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use super::home::Home;
use super::programs::{Programs, major_version};
use super::{Cluster, ClusterConfig, ClusterError, percent_encode, settings, stale};

/// A folder that PostgreSQL's user may enter (a temporary folder is private by default).
fn scratch() -> tempfile::TempDir {
    let folder = tempfile::Builder::new()
        .prefix("waybill-cluster-")
        .tempdir()
        .unwrap();
    Command::new("chmod")
        .arg("711")
        .arg(folder.path())
        .status()
        .unwrap();
    folder
}

fn config(folder: &Path) -> ClusterConfig {
    ClusterConfig::tests(folder.join("pg"))
}

async fn ask(url: &str, sql: &str) -> Result<Vec<String>, tokio_postgres::Error> {
    let (client, connection) = tokio_postgres::connect(url, tokio_postgres::NoTls).await?;
    tokio::spawn(connection);
    let messages = client.simple_query(sql).await?;
    Ok(messages
        .iter()
        .filter_map(|message| match message {
            tokio_postgres::SimpleQueryMessage::Row(row) => row.get(0).map(str::to_owned),
            _ => None,
        })
        .collect())
}

async fn ask_until_it_answers(url: &str, sql: &str) -> Vec<String> {
    let started = Instant::now();
    loop {
        match ask(url, sql).await {
            Ok(rows) => return rows,
            Err(error) => assert!(started.elapsed() < Duration::from_secs(30), "{error}"),
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

#[tokio::test]
async fn keeps_data_from_one_start_to_the_next() {
    let folder = scratch();
    let config = ClusterConfig::product(folder.path().join("pg"));
    let cluster = Cluster::start(config.clone()).await.unwrap();
    let said = "select concat_ws(' ', current_setting('fsync'), current_setting('data_checksums'), \
         current_setting('server_encoding'), datcollate, current_setting('listen_addresses') = '') \
         from pg_database where datname = 'waybill'";
    assert_eq!(
        ask(&cluster.url(), said).await.unwrap(),
        ["on on UTF8 C.UTF-8 t"]
    );
    ask(&cluster.url(), "create table kept as select 7 as n")
        .await
        .unwrap();
    cluster.stop().await.unwrap();

    let started = Instant::now();
    let cluster = Cluster::start(config).await.unwrap();
    assert!(
        started.elapsed() < Duration::from_secs(15),
        "{:?}",
        started.elapsed()
    );
    assert_eq!(
        ask(&cluster.url(), "select n from kept").await.unwrap(),
        ["7"]
    );
    cluster.stop().await.unwrap();
}

#[tokio::test]
async fn refuses_a_folder_that_another_server_uses() {
    let folder = scratch();
    let cluster = Cluster::start(config(folder.path())).await.unwrap();
    let second = Cluster::start(config(folder.path())).await;
    assert!(
        matches!(second, Err(ClusterError::InUse { .. })),
        "{second:?}"
    );
    cluster.stop().await.unwrap();
}

#[tokio::test]
async fn starts_postgres_again_when_it_was_killed() {
    let folder = scratch();
    let cluster = Cluster::start(config(folder.path())).await.unwrap();
    let before = cluster.pid().unwrap();
    assert!(stale::signal(before, "KILL"));
    assert_eq!(
        ask_until_it_answers(&cluster.url(), "select 1").await,
        ["1"]
    );
    cluster.stop().await.unwrap();
}

#[tokio::test]
async fn stops_an_orphan_and_starts_anew() {
    let folder = scratch();
    Cluster::start(config(folder.path()))
        .await
        .unwrap()
        .stop()
        .await
        .unwrap();
    let home = Home::open(&folder.path().join("pg")).unwrap();
    let programs = Programs::find(None).unwrap();
    let mut command = home.command(&programs.postgres());
    command.arg("-D").arg(home.data());
    for setting in settings(&home, super::Tuning::Tests) {
        command.args(["-c", &setting]);
    }
    let mut orphan = command.stderr(Stdio::null()).spawn().unwrap();
    while !stale::is_ready(&home.data(), orphan.id()) {
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    drop(home);

    // Somebody has to collect the dead process; for a real orphan that is init.
    let collected = std::thread::spawn(move || orphan.wait().unwrap());
    let cluster = Cluster::start(config(folder.path())).await.unwrap();
    assert!(collected.join().unwrap().success());
    assert_eq!(ask(&cluster.url(), "select 1").await.unwrap(), ["1"]);
    cluster.stop().await.unwrap();
}

/// Not a test by itself: the next one runs it in a process of its own, and kills that.
#[test]
#[ignore = "run by survives_a_kill_of_the_server"]
fn hold_a_cluster() {
    if let Some(folder) = std::env::var_os("WAYBILL_TEST_HOLD") {
        let _cluster = Cluster::start_blocking(&config(Path::new(&folder))).unwrap();
        std::thread::sleep(Duration::from_secs(120));
    }
}

#[tokio::test]
async fn survives_a_kill_of_the_server() {
    let folder = scratch();
    for _ in 0..2 {
        let mut server = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "cluster::tests::hold_a_cluster", "--ignored"])
            .env("WAYBILL_TEST_HOLD", folder.path())
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        let pid_file = folder.path().join("pg/data/postmaster.pid");
        let started = Instant::now();
        while !fs::read_to_string(&pid_file).is_ok_and(|text| text.contains("ready")) {
            assert!(started.elapsed() < Duration::from_secs(90));
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        server.kill().unwrap();
        server.wait().unwrap();
    }
    let cluster = Cluster::start(config(folder.path())).await.unwrap();
    assert_eq!(ask(&cluster.url(), "select 1").await.unwrap(), ["1"]);
    cluster.stop().await.unwrap();
}

#[tokio::test]
async fn clears_what_a_killed_initdb_and_a_reused_process_number_left() {
    let folder = scratch();
    let unfinished = folder.path().join("pg/data.unfinished");
    fs::create_dir_all(&unfinished).unwrap();
    fs::write(unfinished.join("PG_VERSION"), "15\n").unwrap();
    let cluster = Cluster::start(config(folder.path())).await.unwrap();
    assert!(!unfinished.exists());
    cluster.stop().await.unwrap();

    let pid_file = folder.path().join("pg/data/postmaster.pid");
    fs::write(&pid_file, format!("{}\n/elsewhere\n", std::process::id())).unwrap();
    let cluster = Cluster::start(config(folder.path())).await.unwrap();
    cluster.stop().await.unwrap();
}

#[tokio::test]
async fn puts_the_socket_elsewhere_when_the_path_is_long() {
    let folder = scratch();
    let deep = folder
        .path()
        .join("a-rather-long-name-for-a-folder/".repeat(4));
    let cluster = Cluster::start(config(&deep)).await.unwrap();
    assert!(
        !cluster.home.socket().starts_with(&deep),
        "{:?}",
        cluster.home.socket()
    );
    assert_eq!(ask(&cluster.url(), "select 1").await.unwrap(), ["1"]);
    let socket = cluster.home.socket().to_owned();
    cluster.stop().await.unwrap();
    fs::remove_dir(socket).unwrap();
}

#[tokio::test]
async fn keeps_data_elsewhere_when_root_works_in_a_private_folder() {
    let folder = tempfile::tempdir().unwrap();
    let cluster = Cluster::start(config(folder.path())).await.unwrap();
    if cluster.notice().is_none() {
        // Not root: the folder is our own.
        return cluster.stop().await.unwrap();
    }
    let data = cluster.data();
    assert!(data.starts_with("/var/lib"), "{data:?}");
    cluster.stop().await.unwrap();

    // The note decides from now on, even when the folder has been opened since.
    Command::new("chmod")
        .arg("711")
        .arg(folder.path())
        .status()
        .unwrap();
    let cluster = Cluster::start(config(folder.path())).await.unwrap();
    assert_eq!(cluster.data(), data);
    assert!(cluster.notice().is_some());
    cluster.stop().await.unwrap();
    fs::remove_dir_all(data.parent().unwrap()).unwrap();
}

#[test]
fn reads_version_numbers() {
    assert_eq!(
        major_version("postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)"),
        Some(15)
    );
    assert_eq!(major_version("postgres (PostgreSQL) 18beta1"), Some(18));
    assert_eq!(major_version("15\n"), Some(15));
    assert_eq!(major_version("postgres"), None);
}

#[test]
fn data_needs_the_version_that_made_it() {
    let error = Programs::find(Some(9)).unwrap_err();
    assert!(
        matches!(error, ClusterError::OtherVersion { made_by: 9, .. }),
        "{error}"
    );
}

#[test]
fn escapes_a_socket_folder() {
    assert_eq!(
        percent_encode(Path::new("/var/a b/pg")),
        "%2Fvar%2Fa%20b%2Fpg"
    );
}
