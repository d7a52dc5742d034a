//! A block as a measurement: a spectrum on a falling shift axis, or an FID.

use lees_core::{Fid, Measurement, Megahertz, Nucleus, Ppm, Seconds, ShiftAxis, Spectrum};
use ndarray::Array1;
use num_complex::Complex64;

use crate::document::Block;
use crate::error::{ErrorKind, FormatError};
use crate::even;
use crate::jcamp::kind::Kind;
use crate::jcamp::table::{Abscissae, Table};
use crate::sequential::half_a_point_earlier;
use crate::unit::XUnit;

/// Frequency taken for a spectrum in ppm whose file names none. Shifts and areas do not depend on it; line
/// widths and couplings in hertz do. 400 MHz is the commonest field (common practice, no source).
pub const ASSUMED_FIELD: Megahertz = Megahertz(400.0);

/// Fewer points are no spectrum.
const FEWEST_POINTS: usize = 2;

impl Block {
    /// The measurement in this block.
    ///
    /// # Errors
    /// When the block is no 1D proton spectrum or FID (the message names what it is), when its axis cannot be
    /// placed, or when ordinates are missing.
    ///
    /// ```
    /// use lees_core::Measurement;
    /// let text = "# frequency = 300 MHz\n7.0\t1\n7.5\t2\n8.0\t5\n8.5\t3\n9.0\t2\n";
    /// let document = lees_format::read(text.as_bytes(), "a.txt", &Default::default())?;
    /// let Measurement::Spectrum(spectrum) = document.blocks[0].measurement()? else { unreachable!("no FID") };
    /// assert_eq!(spectrum.axis.field().0, 300.0);
    /// assert_eq!(spectrum.real.to_vec(), [2.0, 3.0, 5.0, 2.0, 1.0], "highest shift first");
    /// # Ok::<(), lees_format::FormatError>(())
    /// ```
    pub fn measurement(&self) -> Result<Measurement, FormatError> {
        self.refuse_other_kinds()?;
        let table = self.real_table().ok_or_else(|| self.missing("a block without data", "a data table"))?;
        self.refuse_gaps(table)?;
        match self.kind {
            Kind::Fid => self.fid(table).map(Measurement::Fid),
            _ => self.spectrum(table).map(Measurement::Spectrum),
        }
    }

    /// What has to be said of the measurement that the file does not say itself.
    #[must_use]
    pub(crate) fn assumptions(&self) -> Vec<String> {
        let mut list = Vec::new();
        if self.kind.is_measurable() && self.field.is_none() {
            list.push(format!(
                "the observe frequency is unknown; {} was assumed, so widths and couplings in Hz are in its measure",
                ASSUMED_FIELD
            ));
        }
        if self.kind == Kind::Fid {
            list.extend(self.carrier_conflict());
            if self.is_sequential() {
                list.push("real and imaginary points were taken in turn; the imaginary ones were moved by half a dwell".to_owned());
            }
        }
        if self.kind.is_measurable() && self.nucleus.is_none() {
            list.push("the nucleus is not named; 1H was assumed".to_owned());
        }
        list
    }

    fn refuse_other_kinds(&self) -> Result<(), FormatError> {
        let refuse = |read: String| {
            let allowed = "one-dimensional 1H NMR spectra and FIDs";
            Err(FormatError::new(ErrorKind::Refused, read, allowed).on_line(self.line).in_file(&self.source))
        };
        let name = if self.data_type.is_empty() { "no DATA TYPE" } else { self.data_type.as_str() };
        match self.kind {
            Kind::Spectrum | Kind::Fid => {}
            Kind::MultiDimensional => return refuse(format!("{name}: data of two or more dimensions")),
            Kind::PeakTable => return refuse(format!("{name}: a peak table, without line shapes")),
            Kind::PeakAssignments => return refuse(format!("{name}: peak assignments, without line shapes")),
            Kind::Structure => return refuse("a chemical structure".to_owned()),
            Kind::Link => return refuse(format!("{name}: a container of blocks")),
            Kind::Other => return refuse(name.to_owned()),
        }
        match &self.nucleus {
            Some(Nucleus::Other(nucleus)) => refuse(format!("{name} of {nucleus}")),
            _ => Ok(()),
        }
    }

    fn refuse_gaps(&self, table: &Table) -> Result<(), FormatError> {
        let Some(at) = table.y.iter().position(|y| !y.is_finite()) else {
            return Ok(());
        };
        let read = format!("ordinate {} of {} is missing", at + 1, table.y.len());
        Err(FormatError::new(ErrorKind::Damaged, read, "all ordinates")
            .on_line(table.line)
            .in_file(&self.source))
    }

    fn spectrum(&self, table: &Table) -> Result<Spectrum, FormatError> {
        let mut real = table.y.clone();
        let mut imaginary = self.imaginary_table().map(|table| table.y.clone());
        if let Abscissae::Listed(x) = &table.x {
            even::check(x).map_err(|e| e.on_line(table.line).in_file(&self.source))?;
        }
        let span = self.shift_span()?;
        let (mut high, mut low) = (span.first, span.last);
        if high < low {
            std::mem::swap(&mut high, &mut low);
            real.reverse();
            if let Some(imaginary) = &mut imaginary {
                imaginary.reverse();
            }
        }
        let field = self.field.unwrap_or(ASSUMED_FIELD);
        let axis = (real.len() >= FEWEST_POINTS)
            .then(|| ShiftAxis::new(Ppm(high), Ppm(low), real.len(), field))
            .flatten()
            .ok_or_else(|| {
                let read = format!("{} points from {high} to {low} ppm", real.len());
                self.missing(&read, "at least two points on an axis of some width")
            })?;
        Ok(Spectrum {
            axis,
            real: Array1::from_vec(real),
            imaginary: imaginary.map(Array1::from_vec),
            acquisition: self.acquisition(field),
        })
    }

    fn fid(&self, table: &Table) -> Result<Fid, FormatError> {
        let imaginary = self.imaginary_table().ok_or_else(|| {
            self.missing("an FID without imaginary part", "real and imaginary points, taken in quadrature")
        })?;
        self.refuse_gaps(imaginary)?;
        if let Abscissae::Listed(x) = &table.x {
            even::check(x).map_err(|e| e.on_line(table.line).in_file(&self.source))?;
        }
        let dwell = self.dwell(table)?;
        let field = self.field.ok_or_else(|| {
            self.missing(
                "an FID without observe frequency",
                "the spectrometer frequency given by hand (--field-mhz 400)",
            )
        })?;
        let points = if self.is_sequential() {
            from_stored(&table.y, &half_a_point_earlier(&imaginary.y))
        } else {
            from_stored(&table.y, &imaginary.y)
        };
        let mut acquisition = self.acquisition(field);
        acquisition.acquisition_time = Some(Seconds(dwell * points.len() as f64));
        let carrier = self.carrier(dwell, points.len(), field);
        Ok(Fid { points, dwell: Seconds(dwell), carrier, group_delay: self.group_delay(), acquisition })
    }

    /// Whether real and imaginary points were taken in turn, half a dwell apart.
    fn is_sequential(&self) -> bool {
        let mode = self.labels.get(".ACQUISITIONMODE");
        mode.is_some_and(|mode| {
            mode.trim_start_matches(['<', '(', ' ']).to_ascii_uppercase().starts_with("SEQ")
        })
    }

    /// What the file says of the unit of its abscissa, in words.
    pub(crate) fn unit_read(&self) -> String {
        let stated = self.x_unit.as_deref().filter(|unit| !unit.trim().is_empty());
        stated.map_or_else(
            || "an abscissa without unit (XUNITS)".to_owned(),
            |unit| format!("abscissa in `{unit}`"),
        )
    }

    fn dwell(&self, table: &Table) -> Result<f64, FormatError> {
        let unit = self.x_unit.as_deref().and_then(XUnit::from_label).filter(|unit| unit.is_time());
        let scale = unit
            .and_then(XUnit::to_base)
            .ok_or_else(|| self.missing(&self.unit_read(), "seconds for an FID"))?;
        let span = table.last_x().zip(table.first_x()).map(|(last, first)| (last - first) * scale);
        let dwell = span.map(|span| span / (table.y.len() as f64 - 1.0));
        dwell
            .filter(|dwell| *dwell > 0.0 && dwell.is_finite())
            .ok_or_else(|| self.missing("points at times that do not rise", "times from zero upwards"))
    }

    /// Shift at zero frequency, by the first of these that the file has:
    /// 1. a private `$CARRIER PPM`;
    /// 2. the transmitter's private settings: offset `$O1` over `$BF1`, moved to the reference frequency `$SF`.
    ///    They took part in the experiment, while the shift reference of an FID is often left over from another
    ///    one (seen to be off by up to 8 ppm in real exports);
    /// 3. `.SHIFT REFERENCE`, a whole point k of the spectrum after transformation, which runs downwards from the
    ///    highest shift: the carrier is its middle.
    fn carrier(&self, dwell: f64, points: usize, field: Megahertz) -> Option<Ppm> {
        let stated = self.number("$CARRIERPPM").map(Ppm);
        stated.or_else(|| self.transmitter_shift()).or_else(|| self.referenced_carrier(dwell, points, field))
    }

    fn transmitter_shift(&self) -> Option<Ppm> {
        let (offset, base) = (self.number("$O1")?, self.number("$BF1").filter(|f| *f > 0.0)?);
        let reference = self.number("$SF").filter(|f| (f / base - 1.0).abs() < LARGEST_REFERENCE_MOVE);
        let reference = reference.unwrap_or(base);
        Some(Ppm((base - reference + offset * 1e-6) / reference * 1e6))
            .filter(|shift| shift.0.abs() < LARGEST_CARRIER)
    }

    fn referenced_carrier(&self, dwell: f64, points: usize, field: Megahertz) -> Option<Ppm> {
        let reference = self.reference()?;
        let sound = reference.point.fract() == 0.0 && (1.0..=points as f64).contains(&reference.point);
        let width = 1.0 / dwell / field.value();
        let step = width / points as f64;
        sound.then(|| Ppm(reference.shift + (reference.point - 1.0) * step - width / 2.0))
    }

    /// A shift reference that contradicts the transmitter settings, in words.
    fn carrier_conflict(&self) -> Option<String> {
        let (table, field) = (self.real_table()?, self.field?);
        let dwell = self.dwell(table).ok()?;
        let used = self.transmitter_shift().filter(|_| self.number("$CARRIERPPM").is_none())?;
        let stated = self.referenced_carrier(dwell, table.y.len(), field)?;
        ((used.0 - stated.0).abs() > CARRIER_TOLERANCE).then(|| {
            format!(
                "the shift reference puts the carrier at {:.3} ppm, the transmitter settings at {:.3} ppm; the latter \
                 were used",
                stated.0, used.0
            )
        })
    }
}

/// Larger distances between `$SF` and `$BF1` are no referencing, relative.
const LARGEST_REFERENCE_MOVE: f64 = 5e-5;

/// Carriers of proton spectra lie well within this, in ppm.
const LARGEST_CARRIER: f64 = 100.0;

/// Shifts of the carrier that differ by less agree, in ppm.
const CARRIER_TOLERANCE: f64 = 0.01;

/// Points of a file in the sense of rotation of [`lees_core::Fid`].
fn from_stored(real: &[f64], imaginary: &[f64]) -> Array1<Complex64> {
    real.iter().zip(imaginary).map(|(&re, &im)| Complex64::new(re, im)).collect()
}

/// Real and imaginary points as files store them: the way back.
pub(crate) fn stored(points: &Array1<Complex64>) -> (Vec<f64>, Vec<f64>) {
    points.iter().map(|point| (point.re, point.im)).unzip()
}
