//! The demo set: what is stored beside the recipes is what they give.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test helper has no caller to tell")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use lees_spin::simulate::{Recipe, Simulator};

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-spectra")
}

fn recipes() -> BTreeMap<String, Recipe> {
    fs::read_dir(demo().join("recipes"))
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            let recipe = Recipe::from_toml(&fs::read_to_string(&path).unwrap())
                .unwrap_or_else(|fault| panic!("{}: {fault}", path.display()));
            (path.file_stem().unwrap().to_string_lossy().into_owned(), recipe)
        })
        .collect()
}

/// The table of true contents beside the files.
#[test]
fn the_table_of_contents_is_true() {
    let text = fs::read_to_string(demo().join("truth.csv")).unwrap();
    let mut rows = text.lines();
    assert_eq!(rows.next(), Some("file,compound,counted,mole_ratio,mol_percent,wt_percent"));
    let stored: Vec<Vec<&str>> = rows.map(|row| row.split(',').collect()).collect();
    let mut simulator = Simulator::default();
    let mut found = 0;
    for (name, recipe) in &recipes() {
        let truth = simulator.run(recipe).unwrap().truth;
        let apart = truth.not_counted.iter().chain(&truth.unknown);
        for (compound, counted) in truth.volatiles.iter().map(|c| (c, "yes")).chain(apart.map(|c| (c, "no")))
        {
            let file = format!("{name}.jdx");
            let row = stored.iter().find(|row| row[0] == file && row[1] == compound.name);
            let row = row.unwrap_or_else(|| panic!("{name}: {} is not in truth.csv", compound.name));
            assert_eq!(row[2], counted);
            assert!((row[3].parse::<f64>().unwrap() / compound.mole_ratio - 1.0).abs() < 1e-5);
            assert_eq!(row[5].parse::<f64>().ok().is_some(), compound.wt_percent.is_some());
            found += 1;
        }
    }
    assert_eq!(found, stored.len());
}

/// The product file describes the recipes' product: formula, mass, protons.
#[test]
fn the_product_file_fits_the_recipes() {
    let text = fs::read_to_string(demo().join("thiazolyl-coumarin.toml")).unwrap();
    let product = lees_format::product::parse(&text, "thiazolyl-coumarin.toml").unwrap();
    for (name, recipe) in &recipes() {
        let compound = recipe.product.as_ref().unwrap();
        assert_eq!(compound.formula, product.formula, "{name}");
        assert!((compound.molar_mass().unwrap() - product.molar_mass).abs() < 1e-9, "{name}");
        assert_eq!(compound.signals.len(), product.signals.len(), "{name}");
        for signal in &compound.signals {
            let told = product.signals.iter().find(|s| (s.range.centre().0 - signal.at).abs() < 0.01);
            assert_eq!(told.unwrap_or_else(|| panic!("{name}: {}", signal.at)).protons, signal.h, "{name}");
        }
    }
}
