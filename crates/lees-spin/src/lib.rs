//! Spin systems to transitions to free induction decays.
