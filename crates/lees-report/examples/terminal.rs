//! Prints the invented batch as `lees check` would.
#[path = "../tests/fixture/mod.rs"]
mod fixture;

use std::io::Write;

use lees_report::terminal::{Style, check, explain};

fn main() -> std::io::Result<()> {
    let batch = fixture::batch(0.05, "ld7/wet.jdx");
    let style = Style { width: 110, ..Style::default() };
    std::io::stdout().write_all((check(&batch, &style) + &explain(&batch, &style)).as_bytes())
}
