//! Manual pages, completions, README and help come from one set of definitions.

use std::fs;

use crate::run::{lees, lees_in, root};

/// The commands that `lees help` lists.
fn commands() -> Vec<String> {
    let help = lees(&["help"]).out;
    let list =
        help.split("Commands:").nth(1).expect("a list").split("Options:").next().expect("its end").to_owned();
    let name = |line: &str| {
        line.strip_prefix("  ").and_then(|rest| rest.split_whitespace().next()).map(str::to_owned)
    };
    list.lines()
        .filter(|line| !line.starts_with("   "))
        .filter_map(name)
        .filter(|name| name != "help")
        .collect()
}

#[test]
fn every_command_has_a_page_with_all_its_options() {
    let folder = tempfile::tempdir().unwrap();
    let ran = lees_in(folder.path(), &["manual", "-o", "share"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let commands = commands();
    assert!(commands.len() >= 11, "{commands:?}");
    for command in &commands {
        let page =
            fs::read_to_string(folder.path().join(format!("share/man1/lees-{command}.1"))).expect(command);
        let help = lees(&["help", command]).out;
        let options = help.split_whitespace().filter(|word| word.starts_with("--") && word.len() > 2);
        for option in options {
            let bare = option.trim_matches(|c: char| !c.is_ascii_alphanumeric()).split('=').next().unwrap();
            let escaped = bare.replace('-', "\\-");
            assert!(page.contains(&escaped), "{command}: {bare}");
        }
    }
    for shell in ["bash", "zsh", "fish", "powershell"] {
        let text =
            fs::read_to_string(folder.path().join(format!("share/completions/lees.{shell}"))).expect(shell);
        assert!(text.contains("drying"), "{shell}");
    }
}

#[test]
fn the_readme_names_every_command_and_no_other() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let commands = commands();
    for command in &commands {
        assert!(readme.contains(&format!("lees {command} ")), "README: {command}");
    }
    for line in readme.lines().filter_map(|line| line.strip_prefix("lees ")) {
        let word = line.split_whitespace().next().unwrap().to_owned();
        assert!(commands.contains(&word) || word == "help", "README: lees {word}");
    }
}

/// The sample in the README is what is printed.
#[test]
fn the_sample_in_the_readme_is_what_is_printed() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let sample = readme.split("```text\n").nth(1).and_then(|rest| rest.split("\n\n(advice").next()).unwrap();
    let ran = lees_in(
        &root(),
        &["check", "demo-spectra/batch-2-h.jdx", "--product", "demo-spectra/thiazolyl-coumarin.toml"],
    );
    assert!(ran.out.starts_with(sample), "{}", ran.out);
}
