//! The same result as PDF pages: blocks flow down A4, each page becomes SVG, each SVG a PDF page.

use std::collections::HashMap;

use lees_core::check::Check;
use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref};

use super::PageOptions;
use super::print::{BODY, Block, Columns, blocks, opening};
use crate::ReportError;
use crate::figure::font::{self, Ruler};
use crate::figure::ordered::ordered;
use crate::figure::sheet::{MM, PT, escape};
use crate::figure::{Svg, export};

/// A4 in mm.
const PAGE: (f64, f64) = (210.0, 297.0);
/// Paper left free, in mm.
const MARGIN: f64 = 16.0;
/// Line height over font size.
const LEADING: f64 = 1.32;
/// So many paragraphs or rows stay with the heading over them, of each as many lines.
const KEPT: usize = 3;
/// PDF units in a mm.
const UNITS: f64 = 72.0 / 25.4;

/// The checks as a PDF document, each starting on a new page; several start with a table of all.
///
/// # Errors
/// [`ReportError::Empty`] for no spectrum; what [`figure::draw`](crate::figure::draw) and the PDF converter report.
///
/// ```
/// use lees_report::page::{PageOptions, pdf};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol
/// assert!(pdf(&[&check], &PageOptions::default())?.starts_with(b"%PDF"));
/// # Ok::<(), lees_report::ReportError>(())
/// ```
pub fn pdf(checks: &[&Check], options: &PageOptions) -> Result<Vec<u8>, ReportError> {
    join(&pages(checks, options)?)
}

/// The pages as SVG.
fn pages(checks: &[&Check], options: &PageOptions) -> Result<Vec<String>, ReportError> {
    if checks.is_empty() {
        return Err(ReportError::Empty);
    }
    let title = super::title(checks, options);
    let shared = super::shared_settings(checks);
    let table = |starts: &[usize]| -> Result<Vec<String>, ReportError> {
        if checks.len() < 2 {
            return Ok(Vec::new());
        }
        let mut flow = Flow::new(title.clone(), 0)?;
        flow.put_all(&opening(&title, checks, shared, starts));
        Ok(flow.finish())
    };
    // The numbers of the pages fill a column of their own, so the table is as long without them.
    let mut flow = Flow::new(title.clone(), table(&[])?.len())?;
    let mut starts = Vec::new();
    for (index, check) in checks.iter().enumerate() {
        if index > 0 {
            flow.put(&Block::Break);
        }
        starts.push(flow.number());
        flow.put_all(&blocks(check, shared.is_none())?);
    }
    let mut pages = table(&starts)?;
    pages.extend(flow.finish());
    Ok(pages)
}

/// Pages being filled.
struct Flow {
    ruler: Ruler,
    title: String,
    /// How many pages come before.
    before: usize,
    pages: Vec<String>,
    body: String,
    y: f64,
}

impl Flow {
    fn new(title: String, before: usize) -> Result<Self, ReportError> {
        let ruler = Ruler::new()?;
        Ok(Self { ruler, title, before, pages: Vec::new(), body: String::new(), y: MARGIN * MM })
    }

    /// The number of the page being filled.
    fn number(&self) -> usize {
        self.before + self.pages.len() + 1
    }

    fn put_all(&mut self, blocks: &[Block]) {
        for (at, block) in blocks.iter().enumerate() {
            self.keep_with_next(&blocks[at..]);
            self.put(block);
        }
    }

    fn width() -> f64 {
        (PAGE.0 - 2.0 * MARGIN) * MM
    }

    fn put(&mut self, block: &Block) {
        match block {
            Block::Text(text, size, bold) => self.paragraph(text, size * PT, *bold),
            Block::Row(cells, bold, columns) => self.row(cells, *bold, columns),
            Block::Space(height) => self.y += height * MM,
            Block::Figure(svg) => self.figure(svg),
            Block::Break => self.turn(),
        }
    }

    /// Starts a new page when a heading would stand alone at the foot of this one.
    fn keep_with_next(&mut self, blocks: &[Block]) {
        let Some((heading @ Block::Text(_, size, true), rest)) = blocks.split_first() else { return };
        if *size > BODY {
            let next = rest.iter().take(KEPT).take_while(|b| matches!(b, Block::Text(..) | Block::Row(..)));
            let height = next.chain([heading]).map(|block| self.height(block)).sum();
            self.need(height);
        }
    }

    /// Height of a paragraph, no more than its first few lines, or of a row's first line, in units.
    fn height(&self, block: &Block) -> f64 {
        let (size, lines) = match block {
            Block::Text(text, size, bold) => (*size, self.lines(text, size * PT, *bold, Self::width()).len()),
            _ => (BODY, 1),
        };
        LEADING * size * PT * lines.min(KEPT) as f64
    }

    /// Starts a new page when less than `height` is left.
    fn need(&mut self, height: f64) {
        if self.y + height > (PAGE.1 - MARGIN) * MM {
            self.turn();
        }
    }

    fn turn(&mut self) {
        let (w, h) = (PAGE.0 * MM, PAGE.1 * MM);
        let foot = format!("{} \u{2013} page {}", self.title, self.number());
        self.text(&foot, MARGIN * MM, (PAGE.1 - 0.5 * MARGIN) * MM, 7.0 * PT, false);
        let body = std::mem::take(&mut self.body);
        self.pages.push(format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}mm\" height=\"{}mm\" viewBox=\"0 0 {w} {h}\">{body}</svg>",
            PAGE.0, PAGE.1
        ));
        self.y = MARGIN * MM;
    }

    fn finish(mut self) -> Vec<String> {
        self.turn();
        self.pages
    }

    fn paragraph(&mut self, text: &str, size: f64, bold: bool) {
        for line in self.lines(text, size, bold, Self::width()) {
            self.need(LEADING * size);
            self.text(&line, MARGIN * MM, self.y + size, size, bold);
            self.y += LEADING * size;
        }
    }

    fn row(&mut self, cells: &[String], bold: bool, columns: &Columns) {
        let size = BODY * PT;
        let cell = |i: usize| {
            // An empty cell lends its width to the one before it.
            let end = (i + 1..columns.len() - 1).find(|&k| cells.get(k).is_none_or(|c| !c.is_empty()));
            let end = end.filter(|&k| cells.get(k).is_some()).unwrap_or(i + 1);
            (columns[i] * Self::width(), (columns[end] - columns[i]) * Self::width() - MM)
        };
        let wrapped: Vec<_> = cells
            .iter()
            .take(columns.len() - 1)
            .enumerate()
            .map(|(i, text)| self.lines(text, size, bold, cell(i).1))
            .collect();
        let height = wrapped.iter().map(Vec::len).max().unwrap_or(1) as f64 * LEADING * size;
        self.need(height);
        for (i, lines) in wrapped.iter().enumerate() {
            for (k, line) in lines.iter().enumerate() {
                let y = self.y + size + k as f64 * LEADING * size;
                self.text(line, MARGIN * MM + cell(i).0, y, size, bold);
            }
        }
        self.y += height;
        let rule = self.y + 0.1 * MM;
        let (x0, x1) = (MARGIN * MM, MARGIN * MM + Self::width());
        self.body.push_str(&format!(
            "<path d=\"M{x0:.0} {rule:.0}H{x1:.0}\" stroke=\"#c8ccd2\" stroke-width=\"12\"/>"
        ));
    }

    fn figure(&mut self, svg: &Svg) {
        let (width, height) = svg.size_mm();
        self.need(height * MM);
        let placed = format!(
            "x=\"{:.0}\" y=\"{:.0}\" width=\"{:.0}\" height=\"{:.0}\"",
            MARGIN * MM,
            self.y,
            width * MM,
            height * MM
        );
        let own = format!("width=\"{width}mm\" height=\"{height}mm\"");
        self.body.push_str(&svg.as_str().replacen(&own, &placed, 1));
        self.y += height * MM;
    }

    fn text(&mut self, text: &str, x: f64, baseline: f64, size: f64, bold: bool) {
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        self.body.push_str(&format!(
            "<text x=\"{x:.0}\" y=\"{baseline:.0}\" font-family=\"{}\" font-size=\"{size:.0}\"{weight} \
             fill=\"#1c1f24\">{}</text>",
            font::FAMILY,
            escape(text)
        ));
    }

    /// Lines no wider than `width`; a word that is longer is cut.
    fn lines(&self, text: &str, size: f64, bold: bool, width: f64) -> Vec<String> {
        let fits = |line: &str| self.ruler.width(line, size, bold) <= width;
        let mut lines = vec![String::new()];
        for word in text.split(' ') {
            let Some(last) = lines.last_mut() else { continue };
            let joined = if last.is_empty() { word.to_owned() } else { format!("{last} {word}") };
            if fits(&joined) {
                *last = joined;
            } else {
                let mut pieces = cut(word, &fits);
                if last.is_empty() {
                    *last = pieces.remove(0);
                }
                lines.extend(pieces);
            }
        }
        lines
    }
}

/// A word in pieces that fit; never empty.
fn cut(word: &str, fits: &impl Fn(&str) -> bool) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for c in word.chars() {
        let Some(last) = pieces.last_mut() else { continue };
        last.push(c);
        if !fits(last) && last.chars().count() > 1 {
            last.pop();
            pieces.push(c.to_string());
        }
    }
    pieces
}

/// One document from pages in SVG.
fn join(pages: &[String]) -> Result<Vec<u8>, ReportError> {
    let failed = |why: String| ReportError::Export { format: "PDF", why };
    let mut next = Ref::new(1);
    let (catalog, tree) = (next.bump(), next.bump());
    let ids: Vec<(Ref, Ref)> = pages.iter().map(|_| (next.bump(), next.bump())).collect();
    let mut pdf = Pdf::new();
    pdf.catalog(catalog).pages(tree);
    pdf.pages(tree).kids(ids.iter().map(|id| id.0)).count(i32::try_from(ids.len()).unwrap_or(i32::MAX));
    for (svg, &(page, content)) in pages.iter().zip(&ids) {
        let parsed = export::tree(svg, "PDF")?;
        let (chunk, picture) = svg2pdf::to_chunk(&parsed, svg2pdf::ConversionOptions::default())
            .map_err(|error| failed(error.to_string()))?;
        let mut numbers = HashMap::new();
        let chunk = chunk.renumber(|old| *numbers.entry(old).or_insert_with(|| next.bump()));
        let picture = *numbers.get(&picture).ok_or_else(|| failed("a page got lost".to_owned()))?;
        put_page(&mut pdf, page, tree, content, picture);
        pdf.extend(&chunk);
    }
    Ok(ordered(pdf.finish()))
}

fn put_page(pdf: &mut Pdf, id: Ref, parent: Ref, content: Ref, picture: Ref) {
    let (w, h) = ((PAGE.0 * UNITS) as f32, (PAGE.1 * UNITS) as f32);
    let name = Name(b"S");
    let mut page = pdf.page(id);
    page.media_box(Rect::new(0.0, 0.0, w, h)).parent(parent).contents(content);
    let mut resources = page.resources();
    resources.x_objects().pair(name, picture).finish();
    resources.finish();
    page.finish();
    let mut drawing = Content::new();
    drawing.transform([w, 0.0, 0.0, h, 0.0, 0.0]).x_object(name);
    pdf.stream(content, &drawing.finish());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[allow(
        unreachable_pub,
        dead_code,
        unused_imports,
        reason = "shared with the examples of the documentation"
    )]
    mod made {
        include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs"));
    }

    fn texts(page: &str) -> Vec<String> {
        let document = roxmltree::Document::parse(page).expect("a page");
        let text = |n: roxmltree::Node<'_, '_>| {
            n.has_tag_name("text").then(|| n.text().map(str::to_owned)).flatten()
        };
        document.descendants().filter_map(text).collect()
    }

    #[test]
    fn several_spectra_start_with_a_table_that_tells_their_pages() {
        let mut checks: Vec<Check> = (0..3).map(|_| made::checked_dye()).collect();
        for (check, title) in checks.iter_mut().zip(["one", "two", "three"]) {
            check.input.title = title.to_owned();
        }
        let of = |checks: &[Check]| {
            pages(&checks.iter().collect::<Vec<_>>(), &PageOptions::default()).expect("pages")
        };
        let all = of(&checks);
        let table = texts(&all[0]);
        assert_eq!(table[0], "3 spectra checked for volatiles");
        let rows: Vec<&[String]> = table.split(|text| text == "needs drying").collect();
        assert_eq!(rows.len(), 4, "a verdict each: {table:?}");
        for (k, title) in ["one", "two", "three"].into_iter().enumerate() {
            assert!(rows[k].iter().any(|text| text.starts_with(title)), "{title} in {:?}", rows[k]);
            let at: usize = rows[k + 1].iter().filter_map(|text| text.parse().ok()).nth(1).expect("a page");
            let page = texts(&all[at - 1]);
            assert_eq!(page[..2], ["NEEDS DRYING", title], "page {at}");
        }
        let name = checks[0].settings.keys().next().expect("a setting").clone();
        let told =
            |pages: &[String]| pages.iter().filter(|page| page.contains(&format!("{name} = "))).count();
        assert_eq!(told(&all), 1, "what all have in common is told once");
        let _ = checks[2].settings.pop_last();
        assert_eq!(told(&of(&checks)), 3);
        let single = of(&checks[..1]);
        assert_eq!(texts(&single[0])[0], "NEEDS DRYING");
    }

    #[test]
    fn a_heading_does_not_stand_alone_at_the_foot_of_a_page() {
        let heading = || Block::Text("Warnings".to_owned(), BODY + 2.0, true);
        let line = || Block::Text("one".to_owned(), BODY, false);
        let foot = (PAGE.1 - MARGIN) * MM;
        for (room, pages) in [(2.0, 1), (8.0, 0)] {
            let mut flow = Flow::new("title".to_owned(), 0).expect("a font");
            flow.y = foot - room * LEADING * BODY * PT;
            flow.keep_with_next(&[heading(), line(), line(), line(), line()]);
            assert_eq!(flow.pages.len(), pages, "room for {room} lines");
        }
        let mut flow = Flow::new("title".to_owned(), 0).expect("a font");
        flow.y = foot - 2.0 * LEADING * BODY * PT;
        flow.keep_with_next(&[line(), heading()]);
        assert_eq!(flow.pages.len(), 0, "text flows on");
    }
}
