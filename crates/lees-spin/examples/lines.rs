//! Lines of spin systems: reads `{"field_mhz": ..., "system": {...}}`, one JSON object a line, from standard input
//! and prints each system's solution as one JSON line.

use std::io::{self, BufRead, Write};

use lees_core::Megahertz;
use lees_spin::SpinSystem;

#[derive(serde::Deserialize)]
struct Question {
    field_mhz: f64,
    system: SpinSystem,
}

fn main() -> io::Result<()> {
    let mut out = io::stdout().lock();
    for line in io::stdin().lock().lines() {
        let question: Question = serde_json::from_str(&line?)?;
        let solved = question.system.solve(Megahertz(question.field_mhz));
        writeln!(out, "{}", serde_json::to_string(&solved)?)?;
    }
    Ok(())
}
