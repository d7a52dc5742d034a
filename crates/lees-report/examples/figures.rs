//! Draws six invented spectra into a folder: `figures FOLDER`.
#[path = "../tests/fixture/mod.rs"]
mod fixture;

use std::error::Error;
use std::path::PathBuf;

use lees_report::figure::{Arrangement, FigureOptions, draw, pdf, png};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("name a folder")?);
    let wet = fixture::batch(0.05, "wet.jdx");
    let damp = fixture::check(&fixture::dye(), &fixture::solvents(0.02), "damp.jdx", "LD-7, dried 2 h");
    let dry = fixture::check(&fixture::dye(), &fixture::solvents(0.002), "dry.jdx", "LD-7, dried 24 h");
    let crowded = fixture::check(&fixture::crowded(), &fixture::solvents(0.03), "crowded.jdx", "crowded dye");
    let wide = FigureOptions::default();
    let narrow = FigureOptions { width_mm: FigureOptions::ONE_COLUMN, ..wide.clone() };
    let integrals = FigureOptions { integrals: true, heading: true, ..wide.clone() };
    let overlaid = FigureOptions { arrangement: Arrangement::Overlaid, ..wide.clone() };
    let jobs = [
        ("weak", vec![&wet], &wide),
        ("crowded", vec![&crowded], &integrals),
        ("column", vec![&wet], &narrow),
        ("crowded-column", vec![&crowded], &narrow),
        ("stacked", vec![&wet, &damp, &dry], &wide),
        ("overlaid", vec![&wet, &damp, &dry], &overlaid),
    ];
    for (name, checks, options) in jobs {
        let svg = draw(&checks, options)?;
        std::fs::write(folder.join(format!("{name}.svg")), svg.as_str())?;
        std::fs::write(folder.join(format!("{name}.png")), png(&svg, 150.0)?)?;
        std::fs::write(folder.join(format!("{name}.pdf")), pdf(&svg)?)?;
    }
    Ok(())
}
