//! Reference data.
