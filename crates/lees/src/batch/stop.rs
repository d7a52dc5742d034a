//! Asking a run to end early.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A flag shared with whoever may end the run: no new input is begun once it is raised; what has begun is finished
/// and handed over.
///
/// ```
/// let stop = lees::batch::Stop::default();
/// let other = stop.clone();
/// other.raise();
/// assert!(stop.is_raised());
/// ```
#[derive(Debug, Clone, Default)]
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    /// Asks for the end.
    ///
    /// ```
    /// let stop = lees::batch::Stop::default();
    /// let same = stop.clone();
    /// stop.raise();
    /// assert!(same.is_raised());
    /// ```
    pub fn raise(&self) {
        self.0.store(true, Ordering::SeqCst);
    }

    /// Whether the end was asked for.
    ///
    /// ```
    /// assert!(!lees::batch::Stop::default().is_raised());
    /// ```
    #[must_use]
    pub fn is_raised(&self) -> bool {
        self.0.load(Ordering::SeqCst)
    }
}
