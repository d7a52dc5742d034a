//! The demo set: what is stored beside the recipes is what they give.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test helper has no caller to tell")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use lees_core::Measurement;
use lees_format::ReadOptions;
use lees_spin::simulate::{OutputKind, Recipe, Simulator};

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

fn stored(name: &str) -> Measurement {
    let path = demo().join(format!("{name}.jdx"));
    let bytes = fs::read(&path).unwrap_or_else(|fault| panic!("{}: {fault}", path.display()));
    assert!(bytes.len() < 300_000, "{name}: {} bytes", bytes.len());
    let document = lees_format::read(&bytes, name, &ReadOptions::default()).unwrap();
    assert_eq!(document.blocks.len(), 1);
    document.blocks[0].measurement().unwrap()
}

/// Every stored value is the simulated one, to within the last step of the digitiser (a machine whose sine differs in the
/// last bit may round one point in a million the other way).
#[test]
fn stored_files_are_what_the_recipes_give() {
    let mut simulator = Simulator::default();
    let recipes = recipes();
    assert!(recipes.len() >= 9);
    for (name, recipe) in &recipes {
        let made = simulator.run(recipe).unwrap();
        let (expected, got): (Vec<f64>, Vec<f64>) = match (recipe.output.kind, stored(name)) {
            (OutputKind::Spectrum, Measurement::Spectrum(file)) => {
                let first = (file.axis.first().0 - made.spectrum.axis.first().0).abs();
                let last = (file.axis.last().0 - made.spectrum.axis.last().0).abs();
                assert!(first < 1e-6 && last < 1e-6, "{name}: axis off by {first:e} and {last:e} ppm");
                (made.spectrum.real.to_vec(), file.real.to_vec())
            }
            (OutputKind::Fid, Measurement::Fid(file)) => {
                assert_eq!(file.group_delay, made.fid.group_delay, "{name}");
                assert!((file.dwell.0 - made.fid.dwell.0).abs() < 1e-12, "{name}");
                let parts = |points: &ndarray::Array1<num_complex::Complex64>| {
                    points.iter().flat_map(|z| [z.re, z.im]).collect()
                };
                (parts(&made.fid.points), parts(&file.points))
            }
            _ => panic!("{name}: the stored file is of the other kind"),
        };
        assert_eq!(expected.len(), got.len(), "{name}");
        let differing = expected.iter().zip(&got).filter(|(e, g)| e != g).count();
        let worst = expected.iter().zip(&got).map(|(e, g)| (e - g).abs()).fold(0.0, f64::max);
        assert!(worst <= 1.0 && differing <= 4, "{name}: {differing} points differ, by up to {worst}");
    }
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
