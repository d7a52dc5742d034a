//! True contents of recipes as CSV: `truth_table demo-spectra/recipes/*.toml > demo-spectra/truth.csv`.

use std::error::Error;
use std::io::{self, Write};
use std::path::PathBuf;

use lees_spin::simulate::{Recipe, Simulator, TruthCompound};

fn number(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| format!("{value:.7}"))
}

fn row(out: &mut impl Write, file: &str, compound: &TruthCompound, counted: &str) -> io::Result<()> {
    let (ratio, mol, wt) = (compound.mole_ratio, number(compound.mol_percent), number(compound.wt_percent));
    writeln!(out, "{file}.jdx,{},{counted},{ratio:.8},{mol},{wt}", compound.name)
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut simulator = Simulator::default();
    let mut out = io::stdout().lock();
    writeln!(out, "file,compound,counted,mole_ratio,mol_percent,wt_percent")?;
    for path in std::env::args().skip(1).map(PathBuf::from) {
        let text = std::fs::read_to_string(&path)?;
        let recipe = Recipe::from_toml(&text).map_err(|fault| format!("{}, {fault}", path.display()))?;
        let truth = simulator.run(&recipe)?.truth;
        let file = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        truth.volatiles.iter().try_for_each(|compound| row(&mut out, &file, compound, "yes"))?;
        let apart = truth.not_counted.iter().chain(&truth.unknown);
        apart.into_iter().try_for_each(|compound| row(&mut out, &file, compound, "no"))?;
    }
    Ok(())
}
