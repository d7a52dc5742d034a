//! `lees inspect`.

use lees::batch::{Reader, list};
use lees_format::{BlockSummary, Document};
use lees_report::json::{InspectBlock, InspectFile};
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
        blocks: document.blocks.iter().map(|block| plain(block.summary())).collect(),
        warnings: warnings.cloned().collect(),
    }
}

fn plain(block: BlockSummary) -> InspectBlock {
    InspectBlock {
        title: block.title,
        data_type: block.data_type,
        kind: block.kind.to_owned(),
        nucleus: block.nucleus,
        field_mhz: block.field_mhz,
        solvent: block.solvent,
        points: block.points,
        x_unit: block.x_unit,
        first_x: block.first_x,
        last_x: block.last_x,
        y_first: block.y_first,
        y_last: block.y_last,
        y_min: block.y_min,
        y_max: block.y_max,
        y_sum: block.y_sum,
        has_imaginary: block.has_imaginary,
    }
}
