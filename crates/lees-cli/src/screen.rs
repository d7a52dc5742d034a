//! What the terminal can show.

use std::io::IsTerminal;

use lees_report::terminal::Style;

use crate::args::ColourChoice;

/// The style for standard output. Colour only on a terminal, unless asked for; `NO_COLOR` is respected
/// (the convention that any non-empty value switches colour off).
pub(crate) fn style(choice: ColourChoice) -> Style {
    let set = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty());
    let terminal = std::io::stdout().is_terminal();
    let dumb = set("TERM").is_some_and(|term| term == "dumb");
    let color = match choice {
        ColourChoice::Always => true,
        ColourChoice::Never => false,
        ColourChoice::Auto => terminal && !dumb && set("NO_COLOR").is_none(),
    };
    let columns = terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
    Style { color, width: columns.unwrap_or(Style::default().width), unicode: speaks_unicode() }
}

fn speaks_unicode() -> bool {
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
        .iter()
        .find_map(|name| std::env::var(name).ok().filter(|v| !v.is_empty()));
    locale.is_none_or(|value| {
        let value = value.to_ascii_lowercase();
        value.contains("utf-8") || value.contains("utf8")
    })
}
