//! The real binary on the demo spectra: status, standard output and standard error together.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "helpers of tests fail the test")]

mod bad_input;
mod check;
mod commands;
mod manual;
mod run;
mod weighed;
