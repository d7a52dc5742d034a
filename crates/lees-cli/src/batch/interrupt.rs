//! Ctrl-C and the polite signals of a service manager.

use lees::batch::Stop;

use crate::failure::Failure;

/// Exit code of a program ended by an interrupt (the shells' convention, 128 + SIGINT).
const INTERRUPTED: i32 = 130;

/// A flag raised by the first signal; a second one ends the program at once.
pub(crate) fn stop_on_signal() -> Result<Stop, Failure> {
    let stop = Stop::default();
    let raised = stop.clone();
    ctrlc::set_handler(move || {
        if raised.is_raised() {
            std::process::exit(INTERRUPTED);
        }
        raised.raise();
    })
    .map_err(|fault| Failure::input(format!("cannot listen for Ctrl-C: {fault}")))?;
    Ok(stop)
}
