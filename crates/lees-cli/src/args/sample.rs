//! What the sample is, how it is judged and how its files are read: the same for every command that checks.

use clap::Args;

use super::{JudgeArgs, ProductArgs, ReadingArgs};

/// Product, judging and reading together.
#[derive(Debug, Clone, Default, Args)]
pub(crate) struct SampleArgs {
    /// The product.
    #[command(flatten)]
    pub(crate) product: ProductArgs,
    /// Judging.
    #[command(flatten)]
    pub(crate) judge: JudgeArgs,
    /// Reading.
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
}
