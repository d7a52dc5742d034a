//! `lees manual`: pages and completions from the same definitions as the help.

use std::path::Path;

use clap::{Command, CommandFactory};
use clap_complete::{Shell, generate};
use clap_mangen::Man;

use crate::args::{Cli, ManualArgs};
use crate::failure::{Ending, Failure};
use crate::out;

/// Shells that get completions.
const SHELLS: [Shell; 4] = [Shell::Bash, Shell::Zsh, Shell::Fish, Shell::PowerShell];

/// Writes one manual page a command and one completion file a shell.
pub(crate) fn manual(args: &ManualArgs) -> Result<Ending, Failure> {
    let pages = args.output.join("man1");
    let completions = args.output.join("completions");
    for folder in [&pages, &completions] {
        std::fs::create_dir_all(folder)
            .map_err(|fault| Failure::input(format!("{}: {fault}", folder.display())))?;
    }
    let mut root = Cli::command();
    root.build();
    write_page(&root, &pages)?;
    for command in root.get_subcommands().filter(|command| command.get_name() != "help") {
        write_page(command, &pages)?;
    }
    for shell in SHELLS {
        let mut text = Vec::new();
        generate(shell, &mut root, "lees", &mut text);
        out::write_file(&completions.join(format!("lees.{shell}")), &text)?;
    }
    Ok(Ending::Well)
}

fn write_page(command: &Command, folder: &Path) -> Result<(), Failure> {
    let name = command.get_display_name().unwrap_or_else(|| command.get_name()).to_owned();
    let mut text = Vec::new();
    Man::new(command.clone()).render(&mut text).map_err(Failure::input)?;
    out::write_file(&folder.join(format!("{name}.1")), &text)
}
