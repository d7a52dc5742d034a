//! The product, from a file or from flags.

use std::path::PathBuf;

use clap::Args;

/// Flags that say what the sample should be.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "The product")]
pub(crate) struct ProductArgs {
    /// Product file (TOML): name, formula or molar_mass, signals, quantify, [limits]
    #[arg(long, value_name = "FILE.toml", conflicts_with_all = ["formula", "molar_mass", "signals"])]
    pub(crate) product: Option<PathBuf>,
    /// The product's name in tables and figures
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    /// Molecular formula, such as C16H16F3NO2
    #[arg(long, value_name = "FORMULA")]
    pub(crate) formula: Option<String>,
    /// Molar mass in g/mol, instead of a formula
    #[arg(long, value_name = "G_PER_MOL", allow_negative_numbers = true, value_parser = super::number)]
    pub(crate) molar_mass: Option<f64>,
    /// The product's journal line, such as "7.52 (d, J = 9.1 Hz, 1H), 3.42 (q, 4H)"
    #[arg(long, value_name = "LINE")]
    pub(crate) signals: Option<String>,
    /// A stretch to quantify on, with its protons when no journal line is given: 6.4-6.7=2H
    #[arg(long, value_name = "HIGH-LOW[=nH]", allow_hyphen_values = true)]
    pub(crate) quantify: Vec<String>,
}
