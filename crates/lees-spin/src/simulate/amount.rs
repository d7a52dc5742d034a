//! From amounts as written to moles per mole of product.

use super::{Amount, Compound, Recipe, RecipeError};

/// What part a compound plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    /// The product.
    Product,
    /// A volatile, counted in mol % and wt %.
    Volatile,
    /// Seen, but not counted: water, residual NMR solvent, grease.
    NotCounted,
    /// An impurity that no table knows.
    Unknown,
}

/// A compound with its moles.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Content<'a> {
    pub(crate) compound: &'a Compound,
    pub(crate) role: Role,
    /// Moles per mole of product.
    pub(crate) moles: f64,
}

/// All compounds of a recipe with their moles.
///
/// With S the mass of product and volatiles per mole of product, a volatile of mass fraction w has
/// n = w S / M, and S = (M_product + sum of n M of those given by mole ratio) / (1 - sum of w).
pub(crate) fn contents(recipe: &Recipe) -> Result<Vec<Content<'_>>, RecipeError> {
    let mass = counted_mass(recipe)?;
    let product =
        recipe.product.iter().map(|compound| Ok(Content { compound, role: Role::Product, moles: 1.0 }));
    let volatile = recipe.volatile.iter().map(|compound| content(compound, Role::Volatile, mass));
    let apart = recipe.nmr_solvent.iter().chain(&recipe.water).chain(&recipe.other);
    let apart = apart.map(|compound| content(compound, Role::NotCounted, mass));
    let unknown = recipe.unknown.iter().map(|compound| content(compound, Role::Unknown, mass));
    product.chain(volatile).chain(apart).chain(unknown).collect()
}

fn content(compound: &Compound, role: Role, mass: Option<f64>) -> Result<Content<'_>, RecipeError> {
    let moles = match compound.amount()? {
        Amount::MoleRatio(ratio) => ratio,
        Amount::WtPercent(percent) => {
            let mass = mass.ok_or_else(|| {
                RecipeError::compound(&compound.name, "wt_percent needs a product with formula or molar_mass")
            })?;
            percent / 100.0 * mass / mass_of(compound)?
        }
    };
    Ok(Content { compound, role, moles })
}

fn mass_of(compound: &Compound) -> Result<f64, RecipeError> {
    match compound.molar_mass() {
        Some(mass) if mass.is_finite() && mass > 0.0 => Ok(mass),
        Some(mass) => Err(RecipeError::compound(&compound.name, format!("a molar mass of {mass} g/mol"))),
        None => Err(RecipeError::compound(&compound.name, "formula or molar_mass is missing")),
    }
}

/// Mass of product and counted volatiles per mole of product, when the product's molar mass is known.
fn counted_mass(recipe: &Recipe) -> Result<Option<f64>, RecipeError> {
    let Some(product) = recipe.product.as_ref().filter(|product| product.molar_mass().is_some()) else {
        return Ok(None);
    };
    let mut given = mass_of(product)?;
    let mut fraction = 0.0;
    for compound in &recipe.volatile {
        match compound.amount()? {
            Amount::MoleRatio(ratio) => given += ratio * mass_of(compound)?,
            Amount::WtPercent(percent) => fraction += percent / 100.0,
        }
    }
    if fraction >= 1.0 {
        return Err(RecipeError::compound(&product.name, "the volatiles add up to 100 wt% or more"));
    }
    Ok(Some(given / (1.0 - fraction)))
}
