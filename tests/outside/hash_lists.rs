//! Hash lists against `data/asc-mhl`: the published scenarios and XML schemas of ASC MHL (MIT; the README there
//! says from where), and cases worked out by an independent script. Everything found there is read, written
//! again byte for byte, verified by the program, and made anew.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::{Value, json};
use waybill_domain::hash_list::chain::{chain_text, read_chain};
use waybill_domain::hash_list::model::{Manifest, Record};
use waybill_domain::hash_list::{manifest_text, read_manifest};

use crate::cases::data;

fn folder() -> PathBuf {
    data().join("asc-mhl")
}

/// Every file below a folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        match path.is_dir() {
            true => found.extend(files(&path)),
            false => found.push(path),
        }
    }
    found.sort();
    found
}

fn with_end(folder: &Path, end: &str) -> Vec<PathBuf> {
    let found = files(folder);
    let found: Vec<PathBuf> = found
        .into_iter()
        .filter(|path| path.to_string_lossy().ends_with(end))
        .collect();
    assert!(!found.is_empty(), "nothing ends with {end}");
    found
}

fn json_file(path: &Path) -> Value {
    serde_json::from_slice(&fs::read(path).expect("a file")).expect("JSON")
}

fn read(bytes: &[u8]) -> Manifest {
    let mut records = Vec::new();
    let read = read_manifest(bytes, &mut |record| records.push(record)).expect("a list");
    assert_eq!(read.doubts, []);
    Manifest {
        head: read.head,
        records,
        references: read.references,
    }
}

fn copy(from: &Path, to: &Path) {
    for file in files(from) {
        let target = to.join(file.strip_prefix(from).expect("below"));
        fs::create_dir_all(target.parent().expect("a folder")).expect("folders");
        fs::copy(&file, &target).expect("a copy");
    }
}

/// Runs the program and gives its exit code and its account.
fn run(args: &[&str], root: &Path, report: &Path) -> (u8, Vec<Value>) {
    let all = ["waybill", "--json"]
        .into_iter()
        .chain(args.iter().copied());
    let all = all
        .map(Into::into)
        .chain([root.into(), "--report".into(), report.into()]);
    let code = waybill_cli::run(all);
    let text = fs::read_to_string(report).unwrap_or_default();
    let lines = text
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"));
    (code, lines.collect())
}

/// Paths with an answer in an account.
fn with_verdict(account: &[Value], verdict: &str) -> BTreeSet<String> {
    let files = account.iter().map(|line| &line["file"]);
    let wanted = files.filter(|file| file["verdict"] == verdict);
    wanted
        .map(|file| file["path"].as_str().expect("a path").to_owned())
        .collect()
}

fn texts(value: &Value) -> BTreeSet<String> {
    let list = value.as_array().into_iter().flatten();
    list.map(|text| text.as_str().expect("a text").to_owned())
        .collect()
}

fn is_valid(file: &Path, schema: &str) {
    let schema = folder().join("xsd").join(schema);
    let output = Command::new("xmllint")
        .args(["--noout", "--nonet", "--schema"])
        .arg(schema)
        .arg(file)
        .output()
        .expect("xmllint (libxml2-utils) is installed");
    let words = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{}: {words}", file.display());
}

fn all_valid(folder: &Path) {
    for list in with_end(folder, ".mhl") {
        is_valid(&list, "ASCMHL.xsd");
    }
    for chain in with_end(folder, "ascmhl_chain.xml") {
        is_valid(&chain, "ASCMHLDirectory.local.xsd");
    }
}

/// What a list says of the files, apart from when and by whom it was made.
fn sayings(manifest: &Manifest) -> Value {
    let mut records = BTreeMap::new();
    for record in &manifest.records {
        let texts = |values: &[waybill_domain::hash_list::model::Value]| {
            let values = values
                .iter()
                .map(|value| json!([value.digest, value.action]));
            Value::Array(values.collect())
        };
        let said = match record {
            Record::File(file) => json!({
                "size": file.size,
                "hashes": texts(&file.values),
                "previous": file.previous,
            }),
            Record::Folder(folder) => json!({
                "content": texts(&folder.pair.content),
                "structure": texts(&folder.pair.structure),
            }),
        };
        records.insert(record.path().to_owned(), said);
    }
    let root = manifest.head.root.as_ref();
    let root = root.map(|root| {
        let texts = |values: &[waybill_domain::hash_list::model::Value]| {
            values
                .iter()
                .map(|value| json!(value.digest))
                .collect::<Vec<_>>()
        };
        json!([texts(&root.content), texts(&root.structure)])
    });
    json!({ "process": manifest.head.process, "records": records, "root": root })
}

#[test]
fn published_lists_and_chains_come_back_byte_for_byte() {
    for path in with_end(&folder().join("examples/scenarios"), ".mhl") {
        let bytes = fs::read(&path).expect("a file");
        assert_eq!(manifest_text(&read(&bytes)).as_bytes(), bytes, "{path:?}");
    }
    for path in with_end(&folder().join("examples/scenarios"), "ascmhl_chain.xml") {
        let bytes = fs::read(&path).expect("a file");
        let (entries, doubts) = read_chain(bytes.as_slice()).expect("a chain");
        assert_eq!(doubts, []);
        assert_eq!(chain_text(&entries).as_bytes(), bytes, "{path:?}");
    }
}

#[test]
fn published_scenarios_are_verified_and_continued() {
    for expected in with_end(&folder().join("examples/scenarios"), "expected.json") {
        let scenario = expected.parent().expect("a folder");
        let histories = json_file(&expected);
        for history in histories["histories"].as_array().expect("histories") {
            let scope = history["scope"].as_str().expect("a scope");
            let scratch = tempfile::tempdir().expect("a scratch folder");
            let name = Path::new(scope).file_name().expect("a name");
            let root = scratch.path().join(name);
            copy(&scenario.join(scope), &root);
            let (code, account) = run(&["verify"], &root, &scratch.path().join("account"));
            assert_eq!(code, 0, "{scope}");
            let status = history["status"].as_object().expect("files");
            let paths: BTreeSet<String> = status.keys().cloned().collect();
            assert!(status.values().all(|status| status == "verified"));
            assert_eq!(with_verdict(&account, "verified"), paths, "{scope}");
            let own = account.iter().map(|line| &line["history"]);
            let mut own = own.filter(|line| line["scope"] == "");
            let line = own.next().expect("a history");
            assert!(line["added"].is_string(), "{line}");
            for kind in line["root_now"]["content"]
                .as_object()
                .expect("a pair")
                .keys()
            {
                let published = &history["roothash_now_all_formats"][kind];
                assert_eq!(line["root_now"]["content"][kind], published["content"]);
                assert_eq!(line["root_now"]["structure"][kind], published["structure"]);
            }
            all_valid(&root);
            // and once more, on what was just written
            let (code, _) = run(&["verify"], &root, &scratch.path().join("account"));
            assert_eq!(code, 0, "{scope}");
        }
    }
}

/// Takes the last generation of a scenario away and lets the program make it.
#[test]
fn published_generations_are_reproduced() {
    for chain in with_end(&folder().join("examples/scenarios"), "ascmhl_chain.xml") {
        let lists = chain.parent().expect("a folder");
        let published = lists.parent().expect("a folder");
        let (mut entries, _) =
            read_chain(fs::read(&chain).expect("a file").as_slice()).expect("a chain");
        let last = entries.pop().expect("a generation");
        let wanted = read(&fs::read(lists.join(&last.path)).expect("a file"));
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let root = scratch.path().join(published.file_name().expect("a name"));
        copy(published, &root);
        let own = root.join("ascmhl");
        fs::remove_file(own.join(&last.path)).expect("a list");
        let kinds = "xxh64";
        let command: &[&str] = match entries.is_empty() {
            true => {
                fs::remove_dir_all(&own).expect("a folder");
                &["list", "make", "--hash", kinds]
            }
            false => {
                fs::write(own.join("ascmhl_chain.xml"), chain_text(&entries)).expect("a chain");
                &["verify"]
            }
        };
        let (code, account) = run(command, &root, &scratch.path().join("account"));
        assert_eq!(code, 0, "{published:?}");
        let lines = account.iter().map(|line| &line["history"]);
        let mut lines = lines.filter(|line| line["scope"] == "");
        let added = lines.next().expect("a history")["added"]
            .as_str()
            .expect("a list")
            .to_owned();
        let made = read(&fs::read(own.join(added)).expect("a list"));
        assert_eq!(sayings(&made), sayings(&wanted), "{published:?}");
        assert_eq!(made.references.len(), wanted.references.len());
        for pattern in &wanted.head.ignore {
            assert!(made.head.ignore.contains(pattern), "{pattern}");
        }
        all_valid(&root);
    }
}

/// Puts a made case on a scratch disk.
fn lay_out(case: &Value, root: &Path) {
    for file in case["disk"]["files"].as_array().expect("files") {
        let path = root.join(file["path"].as_str().expect("a path"));
        fs::create_dir_all(path.parent().expect("a folder")).expect("folders");
        fs::write(path, file["text"].as_str().expect("a text")).expect("a file");
    }
    for path in texts(&case["disk"]["empty_dirs"]) {
        fs::create_dir_all(root.join(path)).expect("a folder");
    }
    for file in case["ascmhl"].as_array().expect("lists") {
        fs::create_dir_all(root.join("ascmhl")).expect("a folder");
        let path = root
            .join("ascmhl")
            .join(file["name"].as_str().expect("a name"));
        fs::write(path, file["text"].as_str().expect("a text")).expect("a file");
    }
}

#[test]
fn made_cases_are_judged_as_worked_out() {
    for path in with_end(&folder().join("examples/made"), ".json") {
        let case = json_file(&path);
        let expected = &case["expected"];
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let root = scratch
            .path()
            .join(case["folder"].as_str().expect("a name"));
        lay_out(&case, &root);
        let (code, account) = run(&["verify"], &root, &scratch.path().join("account"));
        let chain = expected["chain"].as_array().expect("a chain");
        if let Some(broken) = chain.iter().find(|entry| entry["status"] != "ok") {
            assert_eq!(code, 2, "{path:?}");
            let faults = account.iter().map(|line| &line["fault"]);
            let fault = { faults }
                .find(|fault| fault["fault"] == "list_changed")
                .expect("a fault");
            assert_eq!(fault["recorded"], broken["recorded_c4"]);
            assert_eq!(fault["found"], broken["found_c4"]);
            assert_eq!(with_verdict(&account, "verified"), BTreeSet::new());
            continue;
        }
        assert_eq!(
            with_verdict(&account, "verified"),
            texts(&expected["verified"]),
            "{path:?}"
        );
        check_differences(expected, &account, code);
        check_pairs(expected, &account, &root);
        if expected["history_of"].is_object() {
            let words = [
                "waybill".into(),
                "list".into(),
                "show".into(),
                root.clone().into(),
            ];
            let code = waybill_cli::run(words);
            assert_eq!(code, 0);
        }
        all_valid(&root);
    }
}

fn check_differences(expected: &Value, account: &[Value], code: u8) {
    let mismatched = expected["mismatched"].as_array().into_iter().flatten();
    let mut changed = BTreeSet::new();
    for one in mismatched {
        let path = one["path"].as_str().expect("a path");
        changed.insert(path.to_owned());
        let mut lines = account.iter().map(|line| &line["file"]);
        let line = lines.find(|line| line["path"] == path).expect("a line");
        let mut found = line["mismatches"].as_array().into_iter().flatten();
        let found = found
            .find(|found| found["hash"] == one["algorithm"])
            .expect("a mismatch");
        assert_eq!(found["recorded"], one["recorded"], "{path}");
        assert_eq!(found["found"], one["found"], "{path}");
        let other_size = line["size"] != line["recorded_size"];
        assert_eq!(one["size_changed"], json!(other_size), "{path}");
    }
    assert_eq!(with_verdict(account, "changed"), changed);
    // what may be offered as a rename is a missing and a new file in one
    let (mut missing, mut new) = (
        with_verdict(account, "missing"),
        with_verdict(account, "new"),
    );
    for rename in expected["may_be_offered_as_rename"]
        .as_array()
        .into_iter()
        .flatten()
    {
        let mut lines = account.iter().map(|line| &line["file"]);
        let line = lines
            .find(|line| line["path"] == rename["to"])
            .expect("a line");
        assert_eq!(line["from"], rename["from"]);
        missing.insert(rename["from"].as_str().expect("a path").to_owned());
        new.insert(rename["to"].as_str().expect("a path").to_owned());
    }
    assert_eq!(missing, texts(&expected["missing"]));
    assert_eq!(new, texts(&expected["new"]));
    let differs = !(changed.is_empty() && missing.is_empty() && new.is_empty());
    assert_eq!(code, u8::from(differs));
    let end = &account.last().expect("an end")["end"];
    assert_eq!(end["left_out"], json!(count_left_out(expected)), "{end}");
}

/// Files that are left out by a folder above them count once, as that folder.
fn count_left_out(expected: &Value) -> usize {
    let ignored = texts(&expected["ignored"]);
    let whole = ["logs/", "proxies/", "sub/logs/"];
    let folders: BTreeSet<String> = ignored
        .iter()
        .map(|path| {
            let mut whole = whole.iter().filter(|folder| path.starts_with(**folder));
            whole
                .next()
                .map_or(path.clone(), |folder| (*folder).to_owned())
        })
        .collect();
    folders.len()
}

fn check_pairs(expected: &Value, account: &[Value], root: &Path) {
    let mut lines = account.iter().map(|line| &line["history"]);
    let line = lines.find(|line| line["scope"] == "").expect("a history");
    for (kind, pair) in expected["roothash_now"].as_object().into_iter().flatten() {
        assert_eq!(line["root_now"]["content"][kind], pair["content"], "{kind}");
        assert_eq!(
            line["root_now"]["structure"][kind], pair["structure"],
            "{kind}"
        );
    }
    let added = line["added"].as_str().expect("a list");
    let made = read(&fs::read(root.join("ascmhl").join(added)).expect("a list"));
    let mut folders = BTreeMap::new();
    let mut actions = BTreeMap::new();
    for record in &made.records {
        match record {
            Record::Folder(folder) => {
                let kinds = folder.pair.content.iter().zip(&folder.pair.structure);
                let kinds: BTreeMap<&str, Value> = kinds
                    .map(|(content, structure)| {
                        let pair =
                            json!({ "content": content.digest, "structure": structure.digest });
                        (content.digest.kind().name(), pair)
                    })
                    .collect();
                folders.insert(folder.path.as_str(), json!(kinds));
            }
            Record::File(file) => {
                actions.insert(file.path.as_str(), json!(file.values[0].action));
            }
        }
    }
    for (path, pairs) in expected["directory_hashes"]
        .as_object()
        .into_iter()
        .flatten()
    {
        assert_eq!(folders.get(path.as_str()), Some(pairs), "{path}");
    }
    for (path, action) in expected["next_generation_actions"]
        .as_object()
        .into_iter()
        .flatten()
    {
        let action = action
            .as_str()
            .expect("an action")
            .split(' ')
            .next()
            .expect("a word");
        assert_eq!(actions[path.as_str()], action, "{path}");
    }
}
