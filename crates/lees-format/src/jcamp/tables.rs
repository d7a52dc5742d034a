//! All data tables of a block.

use crate::clean::decode;
use crate::error::{ErrorKind, FormatError};
use crate::lines::trim;
use crate::warnings::Warnings;

use super::asdf::{self, Decoded, Rules};
use super::axis::{Claims, settle};
use super::form::{self, Form};
use super::kind::Kind;
use super::meta::Labels;
use super::ntuples::Attributes;
use super::reader::Draft;
use super::record::Record;
use super::table::{Abscissae, Table};
use super::{assign, pairs};

/// What table reading needs to know.
pub(crate) struct Context<'a, 'b> {
    pub labels: Labels<'a, 'b>,
    pub draft: &'b Draft<'a>,
    pub warnings: &'b mut Warnings,
    /// Points that may still come out of this input.
    pub room: usize,
    /// Tables to decode; further ones are counted only.
    pub most_tables: usize,
}

/// What was found.
#[derive(Debug, Default)]
pub(crate) struct Found {
    pub tables: Vec<Table>,
    pub attributes: Attributes,
    pub x_unit: Option<String>,
}

/// Factors and claims for one table.
struct Scale {
    claims: Claims,
    y_factor: f64,
}

/// Decodes the tables of a block.
///
/// # Errors
/// At the first damage.
pub(crate) fn read(context: &mut Context<'_, '_>, kind: Kind) -> Result<Found, FormatError> {
    if context.labels.has("PAGE") || context.labels.has("DATATABLE") {
        return pages(context, kind);
    }
    let names = ["XYDATA", "XYPOINTS", "PEAKTABLE", "PEAKASSIGNMENTS", "RADATA"];
    let Some(record) = context.draft.records.iter().find(|r| names.contains(&r.label.as_str())) else {
        return if kind.is_measurable() { Err(no_table(context.draft)) } else { Ok(Found::default()) };
    };
    let scale = single_scale(context);
    let table = one(context, record, &scale, None, kind)?;
    Ok(Found { tables: vec![table], ..Found::default() })
}

fn no_table(draft: &Draft<'_>) -> FormatError {
    let read = if draft.ended { "a block without data" } else { "the file ends before any data" };
    FormatError::new(ErrorKind::Damaged, read, "a data table").on_line(draft.line)
}

fn single_scale(context: &mut Context<'_, '_>) -> Scale {
    let labels = context.labels;
    let warnings = &mut *context.warnings;
    let factor = labels.axis_number("XFACTOR", warnings).filter(|f| *f != 0.0).unwrap_or(1.0);
    let claims = Claims {
        first: labels.axis_number("FIRSTX", warnings),
        last: labels.axis_number("LASTX", warnings),
        delta: labels.axis_number("DELTAX", warnings).filter(|d| *d != 0.0),
        points: labels.axis_number("NPOINTS", warnings),
        factor,
        line: context.draft.line,
        ended: context.draft.ended,
        lenient: false,
    };
    Scale { claims, y_factor: y_factor(labels, warnings, context.draft) }
}

fn y_factor(labels: Labels<'_, '_>, warnings: &mut Warnings, draft: &Draft<'_>) -> f64 {
    match labels.axis_number("YFACTOR", warnings) {
        Some(0.0) => {
            warnings.on_line(draft.line, "YFACTOR is 0; read as 1");
            1.0
        }
        Some(factor) => factor,
        None => 1.0,
    }
}

fn pages(context: &mut Context<'_, '_>, kind: Kind) -> Result<Found, FormatError> {
    let attributes = Attributes::read(&context.labels, context.draft.line)?;
    let mut found = Found { attributes, ..Found::default() };
    let mut page = None;
    let mut first_of_page = 0;
    let mut skipped = 0;
    for (at, record) in context.draft.records.iter().enumerate() {
        match record.label.as_str() {
            "PAGE" => {
                page = Some(crate::clean::quoted(&record.first_line(), 60));
                first_of_page = at;
            }
            "DATATABLE" | "XYDATA" if found.tables.len() >= context.most_tables => skipped += 1,
            "DATATABLE" | "XYDATA" => {
                let local = &context.draft.records[first_of_page..at];
                let (scale, unit) = page_scale(context, &found.attributes, record, local);
                found.x_unit = found.x_unit.or(unit);
                let table = one(context, record, &scale, page.clone(), kind)?;
                context.room -= table.y.len().min(context.room);
                found.tables.push(table);
            }
            _ => {}
        }
    }
    if skipped > 0 {
        context
            .warnings
            .add(format!("{skipped} further tables of block `{}` were not read", context.draft.number));
    }
    if found.tables.is_empty() && kind.is_measurable() {
        return Err(no_table(context.draft));
    }
    Ok(found)
}

/// The claims for a page: the columns of its symbols, and the records of the page itself.
fn page_scale(
    context: &Context<'_, '_>,
    attributes: &Attributes,
    record: &Record<'_>,
    local: &[Record<'_>],
) -> (Scale, Option<String>) {
    let (x, y) = match form::parse(&record.first_line()).map(|header| header.form) {
        Some(Form::Steps { x, y }) => (x, y),
        Some(Form::Tuples { symbols }) => (symbols[0].to_string(), symbols[1].to_string()),
        _ => ("X".to_owned(), "Y".to_owned()),
    };
    let x = attributes.column(&x).or_else(|| attributes.abscissa());
    let y = attributes.column(&y);
    let local = Labels { records: local, limits: context.labels.limits };
    let claims = Claims {
        first: local.number(&["FIRSTX"]).or(x.and_then(|c| c.first)),
        last: local.number(&["LASTX"]).or(x.and_then(|c| c.last)),
        delta: local.number(&["DELTAX"]).filter(|d| *d != 0.0),
        points: local.number(&["NPOINTS"]).or(y.and_then(|c| c.points)).or(x.and_then(|c| c.points)),
        factor: x.and_then(|c| c.factor).filter(|f| *f != 0.0).unwrap_or(1.0),
        line: record.line,
        ended: context.draft.ended || context.draft.pages_ended,
        lenient: false,
    };
    let y_factor = y.and_then(|c| c.factor).filter(|f| *f != 0.0).unwrap_or(1.0);
    (Scale { claims, y_factor }, x.and_then(|c| c.unit.clone()))
}

/// Decodes one table record.
fn one(
    context: &mut Context<'_, '_>,
    record: &Record<'_>,
    scale: &Scale,
    page: Option<String>,
    kind: Kind,
) -> Result<Table, FormatError> {
    let written = record.first_line();
    let (form, body) = header_of(record, &written, context.warnings);
    let claims = Claims { line: record.line, lenient: !kind.is_measurable(), ..scale.claims };
    let form_text = crate::clean::quoted(&written, 60);
    let table = |symbol: String, x, y| {
        let stated = (None, None);
        Table { symbol, page, form: form_text, x, stated, y, line: record.line }
    };
    match form {
        Form::Steps { y: symbol, .. } => {
            let (x, y) = steps(context, body, claims, scale.y_factor)?;
            Ok(Table { stated: (claims.first, claims.last), ..table(symbol, x, y) })
        }
        Form::Tuples { symbols } => {
            let (x, y) = tuples(context, body, claims, scale.y_factor, symbols.len(), kind)?;
            Ok(table(symbols[1].to_string(), Abscissae::Listed(x), y))
        }
        Form::Assignments { symbols } => {
            let peaks = assign::read(&decode(body), &symbols, context.room);
            if peaks.unread > 0 {
                context
                    .warnings
                    .on_line(record.line, format!("{} assignments were not understood", peaks.unread));
            }
            Ok(table("Y".to_owned(), Abscissae::Listed(peaks.x), peaks.y))
        }
    }
}

/// The form of a table and its lines. A header of another form is taken as the usual one.
fn header_of<'a>(record: &Record<'a>, written: &str, warnings: &mut Warnings) -> (Form, &'a [u8]) {
    match form::parse(written) {
        Some(header) => {
            if header.incomplete {
                warnings.on_line(record.line, "the table's form lacks a bracket; read as if it were there");
            }
            (header.form, record.body)
        }
        None => {
            let form = if matches!(record.label.as_str(), "XYPOINTS" | "PEAKTABLE") {
                Form::Tuples { symbols: vec!['X', 'Y'] }
            } else {
                Form::Steps { x: "X".to_owned(), y: "Y".to_owned() }
            };
            warnings.on_line(record.line, "the table does not state its form; the usual one was taken");
            (form, record.body)
        }
    }
}

fn rules(context: &Context<'_, '_>, claims: Claims, check_ordinates: bool) -> Rules {
    let declared = claims.points.filter(|n| *n >= 1.0 && n.fract() == 0.0 && *n < 1e15).map(|n| n as usize);
    Rules { most: context.room.min(context.labels.limits.points), declared, check_ordinates }
}

fn steps(
    context: &mut Context<'_, '_>,
    body: &[u8],
    claims: Claims,
    factor: f64,
) -> Result<(Abscissae, Vec<f64>), FormatError> {
    let plain = without_decimal_commas(body, context);
    let body = plain.as_deref().unwrap_or(body);
    let rules_here = rules(context, claims, true);
    let mut decoded = asdf::decode(body, claims.line + 1, rules_here)?;
    if !decoded.mismatches.is_empty() {
        decoded = settle_checks(decoded, body, claims, rules_here, context.warnings)?;
    }
    remarks(&decoded, context.warnings);
    let (first, last) = settle(claims, &decoded, context.warnings)?;
    let mut y = decoded.ordinates;
    y.shrink_to_fit();
    for value in &mut y {
        *value *= factor;
    }
    Ok((Abscissae::Even { first, last }, y))
}

fn remarks(decoded: &Decoded, warnings: &mut Warnings) {
    if let Some(line) = decoded.trailing_text {
        warnings.on_line(line, "text after the table; ignored");
    }
    if let Some(line) = decoded.unchecked {
        warnings.on_line(
            line,
            "differences without a check ordinate at the line's start; continued from the line before",
        );
    }
    if let Some(line) = decoded.gap {
        warnings.on_line(line, "`?` marks a missing ordinate");
    }
}

/// Check ordinates that fail: tolerated when all points are there in another sensible reading, else damage.
fn settle_checks(
    decoded: Decoded,
    body: &[u8],
    claims: Claims,
    rules: Rules,
    warnings: &mut Warnings,
) -> Result<Decoded, FormatError> {
    let first = decoded.mismatches[0];
    let whole = rules.declared == Some(decoded.ordinates.len());
    if whole && first.index == decoded.ordinates.len() {
        let text = "the check ordinate after the last point does not repeat it; all points are there";
        warnings.on_line(first.line, text);
        return Ok(decoded);
    }
    if whole && claims.lenient {
        warnings.on_line(first.line, "a check ordinate does not repeat the point before; read on from it");
        return Ok(decoded);
    }
    if !whole {
        let other = asdf::decode(body, claims.line + 1, Rules { check_ordinates: false, ..rules });
        if let Ok(other) = other
            && rules.declared == Some(other.ordinates.len())
        {
            warnings.on_line(
                first.line,
                "lines in difference form carry no check ordinates; every ordinate is a point",
            );
            return Ok(other);
        }
    }
    let read = format!("check ordinate {} where the line before ended at {}", first.written, first.carried);
    let allowed = "the same value twice: a line before this one is damaged";
    Err(FormatError::new(ErrorKind::Damaged, read, allowed).at(first.line, first.column))
}

fn tuples(
    context: &mut Context<'_, '_>,
    body: &[u8],
    claims: Claims,
    y_factor: f64,
    width: usize,
    kind: Kind,
) -> Result<(Vec<f64>, Vec<f64>), FormatError> {
    let plain = without_decimal_commas(body, context);
    let body = plain.as_deref().unwrap_or(body);
    let most = context.room.min(context.labels.limits.points);
    let groups = pairs::read(body, claims.line + 1, width, most)?;
    if let Some(line) = groups.trailing_text {
        context.warnings.on_line(line, "text after the table; ignored");
    }
    let count = groups.x.len();
    if claims.points.is_some_and(|n| n != count as f64) {
        let read = format!("{count} groups where NPOINTS says {}", claims.points.unwrap_or(0.0));
        if kind.is_measurable() && (count == 0 || !claims.ended) {
            return Err(
                FormatError::new(ErrorKind::Damaged, read, "all points of the table").on_line(claims.line)
            );
        }
        context.warnings.on_line(claims.line, format!("{read}; those that are there were read"));
    }
    let scaled = |list: Vec<f64>, factor: f64| list.into_iter().map(|value| value * factor).collect();
    Ok((scaled(groups.x, claims.factor), scaled(groups.y, y_factor)))
}

/// The table with decimal points, when the block's header writes decimal commas.
fn without_decimal_commas(body: &[u8], context: &mut Context<'_, '_>) -> Option<Vec<u8>> {
    let labels = ["FIRSTX", "LASTX", "XFACTOR", "YFACTOR", "DELTAX", "FIRSTY", "MAXY", "MINY"];
    let comma = labels.iter().filter_map(|label| context.labels.record(label)).any(|record| {
        super::number::leading(&record.first_line()).is_some_and(|(number, _)| number.decimal_comma)
    });
    if !comma || trim(body).is_empty() {
        return None;
    }
    let mut out = body.to_vec();
    let mut changed = false;
    for at in 1..out.len().saturating_sub(1) {
        if out[at] == b',' && out[at - 1].is_ascii_digit() && out[at + 1].is_ascii_digit() {
            out[at] = b'.';
            changed = true;
        }
    }
    if changed {
        context.warnings.add("the table has decimal commas, like the header; read as decimal points");
    }
    changed.then_some(out)
}
