//! From the abscissa of a file to chemical shift.
//!
//! Order of decision, checked against solvent and reference lines of real exports:
//! 1. an axis in ppm is used as it is;
//! 2. `.SHIFT REFERENCE` with a whole point number k from 1 to NPOINTS: shift(i) = d + (x(i) - x(k)) / f;
//! 3. any other point number is ignored, the axis counts as referenced: shift = x / f;
//! 4. no reference, the axis ends at 0 and a private `$OFFSET` is there: that is the shift of the first point;
//! 5. otherwise shift = x / f.

use crate::document::Block;
use crate::error::{ErrorKind, FormatError};
use crate::unit::XUnit;

/// The shifts of the first and the last point, in file order, and the rule that gave them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShiftSpan {
    /// Of the first point, in ppm.
    pub first: f64,
    /// Of the last point, in ppm.
    pub last: f64,
    /// The rule, in words.
    pub rule: &'static str,
}

/// A `.SHIFT REFERENCE`: a point, counted from 1, and its shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reference {
    pub point: f64,
    pub shift: f64,
}

impl Block {
    /// The shifts of a spectrum's first and last point.
    ///
    /// # Errors
    /// When the unit is neither ppm nor hertz, or a hertz axis comes without observe frequency.
    ///
    /// ```
    /// let text = ["TITLE=a", "DATA TYPE=NMR SPECTRUM", ".OBSERVE FREQUENCY=400", "XUNITS=HZ", "FIRSTX=4000",
    ///     "LASTX=0", "NPOINTS=3", "XYDATA=(X++(Y..Y))\n4000 1 5 2", "END="].map(|l| format!("##{l}\n")).concat();
    /// let document = lees_format::read(text.as_bytes(), "a.jdx", &Default::default())?;
    /// let span = document.blocks[0].shift_span()?;
    /// assert_eq!((span.first, span.last), (10.0, 0.0), "4000 Hz at 400 MHz are 10 ppm");
    /// # Ok::<(), lees_format::FormatError>(())
    /// ```
    pub fn shift_span(&self) -> Result<ShiftSpan, FormatError> {
        let table = self.real_table().ok_or_else(|| self.missing("a block without data", "a data table"))?;
        let (Some(first), Some(last)) = (table.first_x(), table.last_x()) else {
            return Err(self.missing("an empty table", "at least two points"));
        };
        let unit = self.x_unit.as_deref().and_then(XUnit::from_label);
        let scale = match unit {
            Some(XUnit::Ppm) => return Ok(ShiftSpan { first, last, rule: "the axis is in ppm" }),
            Some(unit) if !unit.is_time() => unit.to_base().unwrap_or(1.0),
            _ => {
                return Err(self.missing(&self.unit_read(), "ppm or Hz for a spectrum"));
            }
        };
        let field = self.field.ok_or_else(|| {
            self.missing(
                "an axis in hertz without observe frequency",
                "the spectrometer frequency given by hand (--field-mhz 400)",
            )
        })?;
        let (a, b) = (first * scale / field.value(), last * scale / field.value());
        Ok(self.referenced(a, b))
    }

    fn referenced(&self, a: f64, b: f64) -> ShiftSpan {
        let points = self.points().unwrap_or(0) as f64;
        match self.reference() {
            Some(Reference { point, shift }) if point.fract() == 0.0 && (1.0..=points).contains(&point) => {
                let at = a + (b - a) * (point - 1.0) / (points - 1.0).max(1.0);
                let moved = shift - at;
                ShiftSpan { first: a + moved, last: b + moved, rule: "by the shift reference of the file" }
            }
            Some(_) => {
                ShiftSpan { first: a, last: b, rule: "Hz / MHz; the file's shift reference names no point" }
            }
            None => match self.number("$OFFSET") {
                Some(offset) if b == 0.0 => ShiftSpan {
                    first: offset,
                    last: offset - a,
                    rule: "the file's offset is the first shift",
                },
                _ => ShiftSpan { first: a, last: b, rule: "Hz / MHz" },
            },
        }
    }

    /// The file's `.SHIFT REFERENCE`, when its last two fields are numbers.
    pub(crate) fn reference(&self) -> Option<Reference> {
        let text = self.labels.get(".SHIFTREFERENCE")?;
        let text = text.trim_matches(['(', ')', ' ']);
        let mut fields = text.rsplit(',').map(|field| field.trim().parse::<f64>());
        let (shift, point) = (fields.next()?.ok()?, fields.next()?.ok()?);
        (shift.is_finite() && point.is_finite()).then_some(Reference { point, shift })
    }

    /// A label's leading number.
    pub(crate) fn number(&self, label: &str) -> Option<f64> {
        let text = self.labels.get(label)?.trim_start_matches(['<', '(', '"', ' ']);
        crate::jcamp::number::leading(text).map(|(number, _)| number.value)
    }

    pub(crate) fn missing(&self, read: &str, allowed: &str) -> FormatError {
        FormatError::new(ErrorKind::Missing, read, allowed).on_line(self.line).in_file(&self.source)
    }
}
