//! The guide's commands, run as written: every fenced `sh` block of a chapter, one after another in a folder of its own.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "helpers of tests fail the test")]

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Bytes of a picture: a page with several stays light.
const MOST_BYTES: u64 = 100_000;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn guide() -> PathBuf {
    root().join("docs/guide")
}

/// Every chapter: name and text.
fn chapters() -> Vec<(String, String)> {
    let mut paths: Vec<PathBuf> =
        std::fs::read_dir(guide()).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "md"));
    paths.sort();
    paths
        .iter()
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, std::fs::read_to_string(path).unwrap())
        })
        .collect()
}

/// The commands of a chapter, block by block, each with the status that the line before the fence announces
/// (`<!-- exit 10 -->`; 0 without), and what a fenced `text` block below it says that it prints.
fn blocks(text: &str) -> Vec<(String, i32, String)> {
    let mut found: Vec<(String, i32, String)> = Vec::new();
    let (mut open, mut before) = (None::<(String, i32)>, "");
    let mut shown = false;
    for line in text.lines() {
        match (&mut open, line) {
            (None, "```sh") => {
                let exit = before.strip_prefix("<!-- exit ").and_then(|rest| rest.strip_suffix(" -->"));
                open = Some((String::new(), exit.map_or(0, |code| code.parse().unwrap())));
            }
            (Some(_), "```") => found.extend(open.take().map(|(block, exit)| (block, exit, String::new()))),
            (None, "```text") => shown = true,
            (None, "```") => shown = false,
            (None, _) if shown => {
                if let Some((_, _, printed)) = found.last_mut() {
                    printed.push_str(line);
                    printed.push('\n');
                }
            }
            (Some((block, _)), _) => {
                block.push_str(line);
                block.push('\n');
            }
            (None, _) => before = line,
        }
    }
    found
}

/// Runs a chapter's blocks; the demo spectra are at hand, and `lees` is the built binary.
fn run(name: &str, text: &str) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("demo-spectra")).unwrap();
    for entry in std::fs::read_dir(root().join("demo-spectra")).unwrap().map(Result::unwrap) {
        if entry.file_type().unwrap().is_file() {
            let to = folder.path().join("demo-spectra").join(entry.file_name());
            std::fs::copy(entry.path(), to).unwrap();
        }
    }
    let binary = Path::new(env!("CARGO_BIN_EXE_lees")).parent().unwrap();
    let path = format!("{}:{}", binary.display(), std::env::var("PATH").unwrap());
    for (block, exit, printed) in blocks(text) {
        let ran = Command::new("sh")
            .args(["-e", "-c", &block])
            .current_dir(folder.path())
            .env("PATH", &path)
            .env("LC_ALL", "C.UTF-8")
            .stdin(Stdio::null())
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&ran.stderr);
        assert_eq!(ran.status.code(), Some(exit), "{name}:\n{block}\n{said}");
        let out = String::from_utf8_lossy(&ran.stdout);
        assert!(out.contains(&printed), "{name}:\n{block}\nprints\n{out}\nwithout\n{printed}");
    }
}

#[test]
fn every_command_of_the_guide_runs() {
    let chapters = chapters();
    let commands: usize = chapters.iter().map(|(_, text)| blocks(text).len()).sum();
    assert!(commands >= chapters.len(), "{commands} blocks in {} chapters", chapters.len());
    std::thread::scope(|scope| {
        for (name, text) in &chapters {
            scope.spawn(move || run(name, text));
        }
    });
}

#[test]
fn every_chapter_is_in_the_index_and_every_link_leads_somewhere() {
    let chapters = chapters();
    let index = &chapters.iter().find(|(name, _)| name == "README.md").unwrap().1;
    for (name, text) in &chapters {
        assert!(name == "README.md" || index.contains(&format!("({name})")), "{name} is not in the index");
        for link in text.split("](").skip(1).map(|rest| rest.split(')').next().unwrap()) {
            let place = link.split('#').next().unwrap();
            assert!(guide().join(place).exists(), "{name}: {link} leads nowhere");
        }
    }
}

#[test]
fn pictures_are_small_and_shown() {
    let texts: String = chapters().into_iter().map(|(_, text)| text).collect();
    for entry in std::fs::read_dir(guide().join("pictures")).unwrap().map(Result::unwrap) {
        let name = entry.file_name().to_string_lossy().into_owned();
        assert!(entry.metadata().unwrap().len() < MOST_BYTES, "{name} is too large");
        assert!(texts.contains(&format!("(pictures/{name})")), "{name} is shown nowhere");
    }
}

#[test]
fn blocks_are_found_with_their_status() {
    let text = "a\n```sh\none\ntwo\n```\n<!-- exit 10 -->\n```sh\nthree\n```\n```text\nfour\n```\n";
    let block = |sh: &str, exit: i32, printed: &str| (sh.to_owned(), exit, printed.to_owned());
    assert_eq!(blocks(text), [block("one\ntwo\n", 0, ""), block("three\n", 10, "four\n")]);
}
