//! The one way in.

use crate::archive;
use crate::document::{Block, Document};
use crate::error::{ErrorKind, FormatError};
use crate::options::ReadOptions;
use crate::sniff::{self, Content};
use crate::warnings::Warnings;
use crate::{jcamp, text};

/// What is shared by all members of an input.
pub(crate) struct Session<'o> {
    pub options: &'o ReadOptions,
    pub warnings: Warnings,
    /// Points that may still come out.
    pub room: usize,
}

/// Reads the bytes of a file. `name` is used in messages and, by its ending, never to guess the format.
///
/// # Errors
/// One line that says where, what was read and what was allowed. With [`ReadOptions::strict`] also for what
/// would be a warning.
///
/// ```
/// let text = ["TITLE= three points", "JCAMP-DX= 5.01", "DATA TYPE= NMR SPECTRUM", "XUNITS= PPM", "FIRSTX= 10",
///     "LASTX= 0", "NPOINTS= 3", "XYDATA= (X++(Y..Y))\n10 1 2 3", "END="].map(|l| format!("##{l}\n")).concat();
/// let document = lees_format::read(text.as_bytes(), "three.jdx", &Default::default())?;
/// assert_eq!(document.blocks[0].points(), Some(3));
/// # Ok::<(), lees_format::FormatError>(())
/// ```
pub fn read(bytes: &[u8], name: &str, options: &ReadOptions) -> Result<Document, FormatError> {
    let limits = &options.limits;
    if bytes.len() > limits.input_bytes {
        let read = format!("{} bytes", bytes.len());
        let allowed = format!("at most {}", limits.input_bytes);
        return Err(FormatError::new(ErrorKind::Limit, read, allowed).in_file(name));
    }
    let warnings = Warnings::up_to(limits.warnings);
    let mut session = Session { options, warnings, room: limits.total_points };
    let blocks = member(bytes, name, &mut session, 0)?;
    let warnings = session.warnings.into_list();
    if options.strict
        && let Some(error) = Warnings::first_as_error(&warnings)
    {
        return Err(error.in_file(name));
    }
    Ok(Document { name: name.to_owned(), blocks, warnings })
}

/// Reads one file, which may be an archive of others.
pub(crate) fn member(
    bytes: &[u8],
    name: &str,
    session: &mut Session<'_>,
    depth: usize,
) -> Result<Vec<Block>, FormatError> {
    let mut blocks = match sniff::content(bytes).map_err(|e| e.in_file(name))? {
        Content::Gzip => archive::gzip(bytes, name, session, depth),
        Content::Zip => archive::zip(bytes, name, session, depth),
        Content::Jcamp(text) => {
            jcamp::reader::read(&text, session.options, &mut session.room, &mut session.warnings)
        }
        Content::Columns(text) => {
            text::read(&text, session.options, &mut session.room, &mut session.warnings)
                .map(|block| vec![block])
        }
    }
    .map_err(|e| e.in_file(name))?;
    sniff::remarks(bytes, &mut session.warnings);
    for block in blocks.iter_mut().filter(|block| block.source.is_empty()) {
        block.source = name.to_owned();
    }
    Ok(blocks)
}
