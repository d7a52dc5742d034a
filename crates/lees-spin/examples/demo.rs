//! Makes the demo spectra and their table of true contents: `demo demo-spectra` reads `demo-spectra/recipes/*.toml`.

use std::error::Error;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use lees_core::Measurement;
use lees_format::write::{WriteOptions, jcamp};
use lees_spin::simulate::{OutputKind, Recipe, Simulator, Truth, TruthCompound};

fn number(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| format!("{value:.7}"))
}

fn row(out: &mut impl Write, file: &str, compound: &TruthCompound, counted: &str) -> io::Result<()> {
    let (ratio, mol, wt) = (compound.mole_ratio, number(compound.mol_percent), number(compound.wt_percent));
    writeln!(out, "{file}.jdx,{},{counted},{ratio:.8},{mol},{wt}", compound.name)
}

fn rows(out: &mut impl Write, file: &str, truth: &Truth) -> io::Result<()> {
    truth.volatiles.iter().try_for_each(|compound| row(out, file, compound, "yes"))?;
    truth.not_counted.iter().chain(&truth.unknown).try_for_each(|compound| row(out, file, compound, "no"))
}

fn recipes(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let entries = fs::read_dir(folder.join("recipes"))?.map(|entry| entry.map(|e| e.path()));
    let mut paths = entries.collect::<io::Result<Vec<_>>>()?;
    paths.sort();
    Ok(paths)
}

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("name the folder that holds `recipes`")?);
    let mut simulator = Simulator::default();
    let mut table = b"file,compound,counted,mole_ratio,mol_percent,wt_percent\n".to_vec();
    for path in recipes(&folder)? {
        let text = fs::read_to_string(&path)?;
        let recipe = Recipe::from_toml(&text).map_err(|fault| format!("{}, {fault}", path.display()))?;
        let file = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let made = simulator.run(&recipe)?;
        let measurement = match recipe.output.kind {
            OutputKind::Spectrum => Measurement::Spectrum(made.spectrum),
            OutputKind::Fid => Measurement::Fid(made.fid),
        };
        fs::write(folder.join(format!("{file}.jdx")), jcamp(&measurement, &WriteOptions::default()).bytes)?;
        rows(&mut table, &file, &made.truth)?;
    }
    fs::write(folder.join("truth.csv"), table)?;
    Ok(())
}
