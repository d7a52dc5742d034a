//! `lees inspect`.

use lees::batch::{Reader, list};
use lees_format::{Block, Document};
use lees_report::json::InspectFile;
use lees_report::{json, terminal};

use crate::args::{ColourChoice, InspectArgs, InspectFormat};
use crate::failure::{Ending, Failure};
use crate::{out, request, screen};

/// Shows what each file holds.
pub(crate) fn inspect(args: &InspectArgs) -> Result<Ending, Failure> {
    let options = request::reading::options(&args.reading)?;
    let style = screen::style(ColourChoice::Auto);
    let mut ending = Ending::Well;
    let mut reader = Reader::default();
    for source in list(&args.files) {
        let document = source.and_then(|source| {
            let bytes = reader.read(&source)?;
            lees_format::read(&bytes, &source.name(), &options).map_err(|fault| fault.to_string())
        });
        match document {
            Ok(document) => {
                let file = summary(&document);
                out::print(&match args.format {
                    InspectFormat::Text => terminal::inspect(&file, &style),
                    InspectFormat::Json => json::inspect(&file) + "\n",
                })?;
            }
            Err(fault) => {
                out::say(fault);
                ending = Ending::SomeFailed;
            }
        }
    }
    Ok(ending)
}

fn summary(document: &Document) -> InspectFile {
    let warnings = document.warnings.iter().chain(document.blocks.iter().flat_map(|block| &block.warnings));
    InspectFile {
        path: document.name.clone(),
        blocks: document.blocks.iter().map(Block::summary).collect(),
        warnings: warnings.cloned().collect(),
    }
}
