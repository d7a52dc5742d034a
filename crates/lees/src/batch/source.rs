//! One input, still unread.

use std::path::{Path, PathBuf};

/// Where the bytes of an input are.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Source {
    /// Standard input.
    Standard,
    /// A file.
    File(PathBuf),
    /// A member of a ZIP archive.
    Member {
        /// The archive's path.
        archive: PathBuf,
        /// The member's name within it.
        member: String,
    },
}

impl Source {
    /// The name used in messages and results: `-`, the path, or `archive.zip/member`.
    ///
    /// ```
    /// use lees::batch::Source;
    /// let member = Source::Member { archive: "rack.zip".into(), member: "7/a.jdx".into() };
    /// assert_eq!(member.name(), "rack.zip/7/a.jdx");
    /// ```
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Self::Standard => "-".to_owned(),
            Self::File(path) => path.display().to_string(),
            Self::Member { archive, member } => format!("{}/{member}", archive.display()),
        }
    }

    pub(super) fn cannot_read(&self, fault: &std::io::Error) -> String {
        format!("{}: cannot read: {fault}", self.name())
    }

    /// The file on disk, when there is one.
    ///
    /// ```
    /// use lees::batch::Source;
    /// let member = Source::Member { archive: "rack.zip".into(), member: "7/a.jdx".into() };
    /// assert_eq!(member.path(), Some("rack.zip".as_ref()));
    /// assert_eq!(Source::Standard.path(), None);
    /// ```
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        match self {
            Self::Standard => None,
            Self::File(path) | Self::Member { archive: path, .. } => Some(path),
        }
    }
}
