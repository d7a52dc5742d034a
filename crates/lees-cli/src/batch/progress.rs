//! How far a run is: a bar with the time left on a terminal, a line now and then elsewhere.

use std::io::IsTerminal;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::out;

/// Time between plain lines; a run shorter than this says nothing.
const BETWEEN_LINES: Duration = Duration::from_secs(10);

/// Progress on standard error.
pub(super) struct Progress {
    bar: ProgressBar,
    all: usize,
    done: usize,
    begun: Instant,
    last_line: Instant,
}

impl Progress {
    /// Progress over `all` inputs; a single one shows none.
    pub(super) fn new(all: usize) -> Self {
        let bar = ProgressBar::new(all as u64);
        let style = ProgressStyle::with_template("{bar:30} {pos} of {len} checked, {eta} left");
        bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()).progress_chars("━╸ "));
        if all < 2 || !std::io::stderr().is_terminal() {
            bar.set_draw_target(ProgressDrawTarget::hidden());
        }
        let now = Instant::now();
        Self { bar, all, done: 0, begun: now, last_line: now }
    }

    /// One more is done.
    pub(super) fn step(&mut self) {
        self.done += 1;
        self.bar.inc(1);
        if self.bar.is_hidden() && self.all > 1 && self.last_line.elapsed() >= BETWEEN_LINES {
            self.last_line = Instant::now();
            out::say(line(self.done, self.all, self.begun.elapsed()));
        }
    }

    /// Runs `print` with the bar out of the way.
    pub(super) fn around<T>(&self, print: impl FnOnce() -> T) -> T {
        self.bar.suspend(print)
    }

    /// Takes the bar away.
    pub(super) fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

/// `200 of 2000 checked, about 3 min left`.
fn line(done: usize, all: usize, elapsed: Duration) -> String {
    let left = elapsed.as_secs_f64() / done.max(1) as f64 * all.saturating_sub(done) as f64;
    let left = match left {
        s if s < 90.0 => format!("{s:.0} s"),
        s if s < 5400.0 => format!("{:.0} min", s / 60.0),
        s => format!("{:.1} h", s / 3600.0),
    };
    format!("{done} of {all} checked, about {left} left")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_left_follows_the_pace_so_far() {
        assert_eq!(line(10, 20, Duration::from_secs(30)), "10 of 20 checked, about 30 s left");
        assert_eq!(line(200, 2000, Duration::from_secs(20)), "200 of 2000 checked, about 3 min left");
        assert_eq!(line(1, 10_000, Duration::from_secs(2)), "1 of 10000 checked, about 5.6 h left");
    }
}
