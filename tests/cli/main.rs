//! The real binary on the demo spectra: status, standard output and standard error together.

mod bad_input;
mod check;
mod commands;
mod manual;
mod run;
