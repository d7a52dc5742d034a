//! What is kept of a check when there are many: no arrays, no lines.

use serde::{Deserialize, Serialize};

use super::{Tags, unexplained_percent, worst};
use crate::check::{Check, Estimate, Verdict};

/// One volatile's content against its limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Content {
    /// The compound.
    pub name: String,
    /// Mass fraction in wt%; `None` without product.
    pub wt_percent: Option<Estimate>,
    /// Its limit in wt%.
    pub limit_wt_percent: Option<f64>,
}

/// A check without its spectrum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Brief {
    /// The input's path.
    pub path: String,
    /// What the sheet says of it.
    pub tags: Tags,
    /// The product's name.
    pub product: Option<String>,
    /// Dry, needs drying, undecided.
    pub verdict: Verdict,
    /// Sum of all counted volatiles in wt%; `None` without product.
    pub total: Option<Estimate>,
    /// The limit of the sum in wt%.
    pub total_limit: Option<f64>,
    /// Every counted volatile.
    pub contents: Vec<Content>,
    /// Index of the volatile that stands worst against its limit.
    pub worst: Option<usize>,
    /// Signals nobody answers for.
    pub unexplained: usize,
    /// Their protons in per cent of the product's expected protons.
    pub unexplained_percent: Option<f64>,
    /// What a careful reader should know.
    pub warnings: Vec<String>,
}

impl Brief {
    /// What is kept of a check.
    ///
    /// ```
    /// use lees_core::rack::{Brief, Tags};
    /// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/two_volatiles.rs")); }
    /// # use made::*;
    /// let check = two_volatiles(); // 2-propanol and toluene
    /// let brief = Brief::new(&check, &Tags::default());
    /// assert_eq!((brief.path.as_str(), brief.contents.len()), ("batch.jdx", 2));
    /// ```
    #[must_use]
    pub fn new(check: &Check, tags: &Tags) -> Self {
        let worst = worst(check).and_then(|w| check.volatiles.iter().position(|f| std::ptr::eq(f, w)));
        let content = |f: &crate::check::Finding| Content {
            name: f.name.clone(),
            wt_percent: f.wt_percent,
            limit_wt_percent: f.limit_wt_percent,
        };
        Self {
            path: check.input.path.clone(),
            tags: tags.clone(),
            product: check.product.as_ref().map(|p| p.name.clone()),
            verdict: check.verdict,
            total: check.total.wt_percent,
            total_limit: check.total.limit_wt_percent,
            contents: check.volatiles.iter().map(content).collect(),
            worst,
            unexplained: check.unexplained.len(),
            unexplained_percent: unexplained_percent(check),
            warnings: check.warnings.clone(),
        }
    }

    /// The volatile that stands worst against its limit.
    ///
    /// ```
    /// use lees_core::rack::{Brief, Tags};
    /// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/two_volatiles.rs")); }
    /// # use made::*;
    /// let check = two_volatiles(); // 0.21 wt% 2-propanol against 0.5, 0.05 wt% toluene against 0.089
    /// assert_eq!(Brief::new(&check, &Tags::default()).worst().expect("two").name, "toluene");
    /// ```
    #[must_use]
    pub fn worst(&self) -> Option<&Content> {
        self.contents.get(self.worst?)
    }

    /// The fraction's name when it is one, else the path.
    ///
    /// ```
    /// use lees_core::rack::{Brief, Tags};
    /// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/two_volatiles.rs")); }
    /// # use made::*;
    /// let check = two_volatiles();
    /// let seventh = Tags { fraction: Some("7".into()), ..Tags::default() };
    /// assert_eq!(Brief::new(&check, &seventh).label(), "7");
    /// assert_eq!(Brief::new(&check, &Tags::default()).label(), "batch.jdx");
    /// ```
    #[must_use]
    pub fn label(&self) -> &str {
        self.tags.fraction.as_deref().unwrap_or(&self.path)
    }
}
