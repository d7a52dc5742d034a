//! Many inputs: listed, read, checked on all cores, handed over in the order they were listed.
//!
//! The engine knows no terminal and no spectrum. What is done with the bytes is given to it, so that the same
//! engine serves the command line, a watched folder and the tests. One bad input is one message; it stops nothing.
//!
//! ```
//! use lees::batch::{Batch, Source, Stop, list};
//!
//! let folder = std::env::temp_dir().join(format!("lees-batch-{}", std::process::id()));
//! std::fs::create_dir_all(&folder)?;
//! std::fs::write(folder.join("a.jdx"), "one")?;
//! std::fs::write(folder.join("b.jdx"), "three")?;
//! let sources = list(std::slice::from_ref(&folder));
//! let mut lengths = Vec::new();
//! let batch = Batch { jobs: 2, stop: Stop::default(), ..Batch::default() };
//! batch.run(&sources, |_| String::new(), || |_: &Source, bytes: &[u8], _: &str| bytes.len(), None, |done| {
//!     lengths.push(done.result.expect("readable"));
//!     Ok::<(), std::io::Error>(())
//! })?;
//! assert_eq!(lengths, [3, 5]);
//! std::fs::remove_dir_all(&folder)?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod archive;
mod columns;
mod journal;
mod list;
mod parallel;
mod reader;
mod run;
mod source;
mod stop;

pub use archive::unpacked;
pub use columns::may_be_spectrum;
pub use journal::{Journal, JournalError};
pub use list::{has_spectrum_ending, list};
pub use reader::Reader;
pub use run::{Batch, Done, RunError};
pub use source::Source;
pub use stop::Stop;
