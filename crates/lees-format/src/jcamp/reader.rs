//! A text's records sorted into blocks: TITLE opens one, END closes it, blocks lie inside LINK blocks.

use crate::document::Block;
use crate::error::{ErrorKind, FormatError};
use crate::options::ReadOptions;
use crate::warnings::Warnings;

use super::block::build;
use super::label::normalise;
use super::record::{Record, Records, split};

/// A block whose records are collected.
#[derive(Debug)]
pub(crate) struct Draft<'a> {
    /// Place in the file, such as `2.1` for the first block inside the second.
    pub number: String,
    pub line: usize,
    pub records: Vec<Record<'a>>,
    /// Whether END closed it.
    pub ended: bool,
    /// Whether END NTUPLES closed its pages.
    pub pages_ended: bool,
    children: usize,
    order: usize,
}

/// Longest line of the standard.
const STANDARD_LINE: usize = 80;

/// Reads all blocks of a JCAMP-DX text.
///
/// # Errors
/// At damage, at a limit, or when there is no block.
pub(crate) fn read(
    bytes: &[u8],
    options: &ReadOptions,
    room: &mut usize,
    warnings: &mut Warnings,
) -> Result<Vec<Block>, FormatError> {
    let records = split(bytes, &options.limits)?;
    layout_remarks(&records, bytes, warnings);
    let drafts = sort(records.list, options, warnings)?;
    if drafts.is_empty() {
        return Err(FormatError::new(ErrorKind::Damaged, "no block", "##TITLE= ... ##END="));
    }
    let mut blocks = Vec::with_capacity(drafts.len());
    for draft in &drafts {
        let block = build(draft, options, *room)?;
        *room -= block.tables.iter().map(|table| table.y.len()).sum::<usize>().min(*room);
        warnings.extend(&block.warnings);
        blocks.push(block);
    }
    Ok(blocks)
}

fn layout_remarks(records: &Records<'_>, bytes: &[u8], warnings: &mut Warnings) {
    if let Some(line) = records.preface {
        warnings.on_line(line, "text before the first record; ignored");
    }
    let (length, line) = records.longest;
    if length > STANDARD_LINE {
        warnings
            .on_line(line, format!("lines up to {length} characters; the standard has 80; read as they are"));
    }
    if memchr::memchr(b'\n', bytes).is_none() && memchr::memchr(b'\r', bytes).is_some() {
        warnings.add("lines end with CR alone; read as line ends");
    }
}

struct Sorter<'a, 'w> {
    open: Vec<Draft<'a>>,
    done: Vec<Draft<'a>>,
    top: usize,
    opened: usize,
    options: &'w ReadOptions,
    warnings: &'w mut Warnings,
}

fn sort<'a>(
    records: Vec<Record<'a>>,
    options: &ReadOptions,
    warnings: &mut Warnings,
) -> Result<Vec<Draft<'a>>, FormatError> {
    let mut sorter = Sorter { open: Vec::new(), done: Vec::new(), top: 0, opened: 0, options, warnings };
    for record in records {
        sorter.take(record)?;
    }
    sorter.finish();
    let mut done = sorter.done;
    done.sort_by_key(|draft| draft.order);
    Ok(done)
}

impl<'a> Sorter<'a, '_> {
    fn take(&mut self, record: Record<'a>) -> Result<(), FormatError> {
        match record.label.as_str() {
            "TITLE" => self.title(record),
            "END" => {
                self.end(&record);
                Ok(())
            }
            "ENDNTUPLES" | "ENDTUPLES" => {
                self.end_pages(&record);
                Ok(())
            }
            _ => self.inside(record),
        }
    }

    fn title(&mut self, record: Record<'a>) -> Result<(), FormatError> {
        // Only a LINK block, or one that has said nothing of itself yet, can hold blocks.
        if let Some(open) = self.open.last()
            && holds_data(open)
        {
            let line = open.line;
            self.warnings.on_line(line, "##END= of this block is missing; it ends where the next begins");
            self.pop(true);
        }
        self.push(record.line)?;
        self.inside(record)
    }

    fn push(&mut self, line: usize) -> Result<(), FormatError> {
        let limits = &self.options.limits;
        if self.open.len() >= limits.block_depth {
            let read = format!("blocks nested more than {} deep", limits.block_depth);
            return Err(FormatError::new(ErrorKind::Limit, read, "less, or a raised limit").on_line(line));
        }
        if self.opened >= limits.blocks {
            let read = format!("more than {} blocks", limits.blocks);
            return Err(FormatError::new(ErrorKind::Limit, read, "fewer, or a raised limit").on_line(line));
        }
        let number = match self.open.last_mut() {
            Some(parent) => {
                parent.children += 1;
                format!("{}.{}", parent.number, parent.children)
            }
            None => {
                self.top += 1;
                self.top.to_string()
            }
        };
        let order = self.opened;
        self.opened += 1;
        let records = Vec::new();
        self.open.push(Draft { number, line, records, ended: false, pages_ended: false, children: 0, order });
        Ok(())
    }

    fn inside(&mut self, record: Record<'a>) -> Result<(), FormatError> {
        if self.open.is_empty() {
            self.warnings.on_line(record.line, "a record outside any block; a block was opened for it");
            self.push(record.line)?;
        }
        if !record.equals {
            let label = crate::clean::quoted(&record.label, 40);
            self.warnings
                .on_line(record.line, format!("`##{label}` has no equals sign; read as if it had one"));
        }
        if let Some(open) = self.open.last_mut() {
            open.records.push(record);
        }
        Ok(())
    }

    fn end(&mut self, record: &Record<'_>) {
        if self.open.is_empty() {
            self.warnings.on_line(record.line, "##END= without a block; ignored");
            return;
        }
        if !record.equals {
            self.warnings.on_line(record.line, "`##END` has no equals sign; read as if it had one");
        }
        if self.open.len() == 1 && !record.text(2).is_empty() {
            self.warnings.on_line(record.line, "text after ##END=; ignored");
        }
        self.pop(true);
    }

    fn end_pages(&mut self, record: &Record<'_>) {
        if record.label == "ENDTUPLES" {
            self.warnings.on_line(record.line, "END TUPLES; read as END NTUPLES");
        }
        if let Some(open) = self.open.last_mut() {
            open.pages_ended = true;
        }
    }

    fn pop(&mut self, ended: bool) {
        if let Some(draft) = self.open.pop() {
            self.done.push(Draft { ended, ..draft });
        }
    }

    fn finish(&mut self) {
        while let Some(open) = self.open.last() {
            let line = open.line;
            self.warnings.on_line(line, "##END= of this block is missing at the end of the file");
            self.pop(false);
        }
    }
}

fn holds_data(draft: &Draft<'_>) -> bool {
    let link = draft.records.iter().any(|r| r.label == "DATATYPE" && normalise(r.head).contains("LINK"));
    !link && draft.records.iter().any(|r| super::meta::TABLES.contains(&r.label.as_str()))
}
