//! What a guess about the spectrum takes from the verdict.

use lees_core::check::{Check, Verdict};

/// How a dry verdict opens its sentence on unexplained signals.
const DRY_BUT: &str = "Dry, but ";

/// Takes back "dry" where the spectrometer frequency is not known: volatiles are told apart by couplings in hertz, so at
/// a wrong frequency one that is there may not be recognised. What was found over a limit stays.
pub(crate) fn frequency(check: &mut Check) {
    if check.verdict != Verdict::Dry {
        return;
    }
    check.verdict = Verdict::Undecided;
    for reason in &mut check.reasons {
        if let Some(rest) = reason.strip_prefix(DRY_BUT) {
            *reason = rest.to_owned();
        }
    }
    let assumed = check.input.field.0;
    let reason = format!(
        "The spectrometer frequency is not known, {assumed} MHz was assumed; patterns are told by couplings in Hz, so a volatile may stand there unrecognised. Give it: --field-mhz 300, or a line in the file such as `# frequency = 300 MHz`."
    );
    check.reasons.insert(0, reason);
}
