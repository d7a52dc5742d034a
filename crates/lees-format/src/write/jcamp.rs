//! JCAMP-DX 5.01.

use lees_core::{Acquisition, Fid, Measurement, Nucleus, Spectrum};

use super::asdf::{Steps, differences, plain, squeezed};
use super::number::affn;
use super::scale::scale;
use super::{Encoding, WriteOptions, Written, one_line};

/// Writes a measurement as JCAMP-DX 5.01: a spectrum without imaginary part as XYDATA, everything else as
/// NTUPLES with real and imaginary pages.
///
/// AFFN, FIX and PAC lose nothing. The other forms hold whole numbers: nothing is lost when the values are
/// multiples of a common factor within 51 bits, as data from a digitiser are; else the largest value keeps 51
/// bits and [`Written::rounding`] says how much was lost.
///
/// ```
/// use lees_core::{Acquisition, Measurement, Megahertz, Ppm, ShiftAxis, Spectrum};
/// use lees_format::write::{jcamp, WriteOptions};
/// let field = Megahertz(400.0);
/// let spectrum = Spectrum {
///     axis: ShiftAxis::new(Ppm(10.0), Ppm(0.0), 4, field).expect("falls"),
///     real: vec![0.0, 5.0, 2.0, 0.0].into(),
///     imaginary: None,
///     acquisition: Acquisition::at_field(field),
/// };
/// let written = jcamp(&Measurement::Spectrum(spectrum.clone()), &WriteOptions::default());
/// let back = lees_format::read(&written.bytes, "a.jdx", &Default::default())?.blocks[0].measurement()?;
/// assert!(matches!(back, Measurement::Spectrum(s) if s.real == spectrum.real));
/// # Ok::<(), lees_format::FormatError>(())
/// ```
#[must_use]
pub fn jcamp(measurement: &Measurement, options: &WriteOptions) -> Written {
    let mut file = File { out: String::new(), options, rounding: 0.0 };
    match measurement {
        Measurement::Spectrum(spectrum) => file.spectrum(spectrum),
        Measurement::Fid(fid) => file.fid(fid),
    }
    file.record("END", "");
    Written { bytes: file.out.into_bytes(), rounding: file.rounding }
}

struct File<'o> {
    out: String,
    options: &'o WriteOptions,
    rounding: f64,
}

/// Ordinates ready to be written, and their factor.
struct Ordinates<'v> {
    values: &'v [f64],
    counts: Vec<i64>,
    factor: f64,
}

/// The abscissa of a file.
struct Abscissa {
    unit: &'static str,
    first: f64,
    last: f64,
    steps: Steps,
}

impl Abscissa {
    fn new(unit: &'static str, first: f64, last: f64, points: usize) -> Self {
        let step = (last - first) / (points as f64 - 1.0).max(1.0);
        Self { unit, first, last, steps: Steps { first, step } }
    }
}

impl File<'_> {
    fn record(&mut self, label: &str, value: &str) {
        self.out.push_str("##");
        self.out.push_str(label);
        self.out.push('=');
        if !value.is_empty() {
            self.out.push(' ');
            self.out.push_str(value);
        }
        self.out.push('\n');
    }

    fn number(&mut self, label: &str, value: Option<f64>) {
        if let Some(value) = value {
            self.record(label, &affn(value));
        }
    }

    fn text(&mut self, label: &str, value: Option<&str>) {
        if let Some(value) = value.map(one_line).filter(|value| !value.is_empty()) {
            self.record(label, &value);
        }
    }

    fn head(&mut self, data_type: &str, class: &str, acquisition: &Acquisition) {
        self.record("TITLE", &one_line(&acquisition.title));
        self.record("JCAMP-DX", concat!("5.01 $$ lees-format ", env!("CARGO_PKG_VERSION")));
        self.record("DATA TYPE", data_type);
        self.record("DATA CLASS", class);
        for label in ["ORIGIN", "OWNER"] {
            let known =
                acquisition.other.get(label).map_or_else(|| "unknown".to_owned(), |text| one_line(text));
            self.record(label, &known);
        }
        for step in &self.options.history {
            self.out.push_str("$$ history: ");
            self.out.push_str(&one_line(step));
            self.out.push('\n');
        }
        self.experiment(acquisition);
    }

    fn experiment(&mut self, acquisition: &Acquisition) {
        self.number(".OBSERVE FREQUENCY", Some(acquisition.field.value()));
        let nucleus = acquisition.nucleus.as_ref().map(|nucleus| match nucleus {
            Nucleus::Proton => "^1H".to_owned(),
            Nucleus::Other(name) => format!("^{name}"),
        });
        self.text(".OBSERVE NUCLEUS", nucleus.as_deref());
        self.text(".SOLVENT NAME", acquisition.solvent.as_deref());
        self.number(".AVERAGES", acquisition.scans.map(f64::from));
        self.number(".ACQUISITION TIME", acquisition.acquisition_time.map(|t| t.value()));
        self.number("$RELAXATION DELAY", acquisition.relaxation_delay.map(|t| t.value()));
        self.number("$PULSE ANGLE", acquisition.pulse_angle.map(|a| a.value()));
        self.number("$TEMPERATURE K", acquisition.temperature_k);
    }

    fn spectrum(&mut self, spectrum: &Spectrum) {
        let axis = &spectrum.axis;
        let field = axis.field().value();
        let (first, last) = (axis.first().value(), axis.last().value());
        let hertz = self.options.hertz;
        let class = if spectrum.imaginary.is_some() { "NTUPLES" } else { "XYDATA" };
        self.head("NMR SPECTRUM", class, &spectrum.acquisition);
        if hertz {
            self.record(".SHIFT REFERENCE", &format!("EXTERNAL, none, 1, {}", affn(first)));
        }
        let x = if hertz {
            Abscissa::new("HZ", first * field, last * field, axis.points())
        } else {
            Abscissa::new("PPM", first, last, axis.points())
        };
        let tried = factors(&spectrum.acquisition);
        let real = values(&spectrum.real);
        let real = self.ordinates(&real, &tried);
        match &spectrum.imaginary {
            None => self.single(&x, &real),
            Some(imaginary) => {
                let imaginary = values(imaginary);
                let imaginary = self.ordinates(&imaginary, &tried);
                self.pages(
                    "NMR SPECTRUM",
                    ["FREQUENCY", "SPECTRUM/REAL", "SPECTRUM/IMAG"],
                    &x,
                    [&real, &imaginary],
                );
            }
        }
    }

    fn fid(&mut self, fid: &Fid) {
        self.head("NMR FID", "NTUPLES", &fid.acquisition);
        self.record(".ACQUISITION MODE", "SIMULTANEOUS");
        self.text(".DELAY", fid.acquisition.other.get(".DELAY").map(String::as_str));
        if let Some(carrier) = fid.carrier {
            let first = carrier.value() + fid.spectral_width().value() / fid.acquisition.field.value() / 2.0;
            self.record(".SHIFT REFERENCE", &format!("EXTERNAL, none, 1, {}", affn(first)));
        }
        self.number("$GRPDLY", fid.group_delay);
        let x = Abscissa::new(
            "SECONDS",
            0.0,
            fid.dwell.value() * (fid.points.len() as f64 - 1.0),
            fid.points.len(),
        );
        let tried = factors(&fid.acquisition);
        let (real, imaginary) = crate::measurement::stored(&fid.points);
        let (real, imaginary) = (self.ordinates(&real, &tried), self.ordinates(&imaginary, &tried));
        self.pages("NMR FID", ["TIME", "FID/REAL", "FID/IMAG"], &x, [&real, &imaginary]);
    }

    fn ordinates<'v>(&mut self, values: &'v [f64], tried: &[f64]) -> Ordinates<'v> {
        if !self.options.encoding.is_whole() {
            return Ordinates { values, counts: Vec::new(), factor: 1.0 };
        }
        let scaled = scale(values, tried);
        self.rounding = self.rounding.max(scaled.rounding);
        Ordinates { values, counts: scaled.counts, factor: scaled.factor }
    }

    fn single(&mut self, x: &Abscissa, y: &Ordinates<'_>) {
        self.record("XUNITS", x.unit);
        self.record("YUNITS", "ARBITRARY UNITS");
        self.record("XFACTOR", "1");
        self.number("YFACTOR", Some(y.factor));
        self.number("FIRSTX", Some(x.first));
        self.number("LASTX", Some(x.last));
        self.number("DELTAX", Some(x.steps.step));
        self.number("FIRSTY", y.values.first().copied());
        let (low, high) = extremes(y.values);
        self.number("MINY", Some(low));
        self.number("MAXY", Some(high));
        self.record("NPOINTS", &y.values.len().to_string());
        self.record("XYDATA", "(X++(Y..Y))");
        self.table(x.steps, y);
    }

    fn pages(&mut self, kind: &str, names: [&str; 3], x: &Abscissa, y: [&Ordinates<'_>; 2]) {
        let form = if self.options.encoding.is_whole() { "ASDF" } else { "AFFN" };
        let points = y[0].values.len();
        let row = |cells: [String; 4]| cells.join(", ");
        let ends = |value: fn(&[f64]) -> f64| (affn(value(y[0].values)), affn(value(y[1].values)));
        let first = ends(|v| v.first().copied().unwrap_or(0.0));
        let last = ends(|v| v.last().copied().unwrap_or(0.0));
        let (low, high) = (ends(|v| extremes(v).0), ends(|v| extremes(v).1));
        let (left, right) = (x.first.min(x.last), x.first.max(x.last));
        self.record("NTUPLES", kind);
        self.record("VAR_NAME", &format!("{}, {}, {}, PAGE NUMBER", names[0], names[1], names[2]));
        self.record("SYMBOL", "X, R, I, N");
        self.record("VAR_TYPE", "INDEPENDENT, DEPENDENT, DEPENDENT, PAGE");
        self.record("VAR_FORM", &format!("AFFN, {form}, {form}, AFFN"));
        self.record("VAR_DIM", &format!("{points}, {points}, {points}, 2"));
        self.record("UNITS", &format!("{}, ARBITRARY UNITS, ARBITRARY UNITS,", x.unit));
        self.record("FIRST", &row([affn(x.first), first.0, first.1, "1".to_owned()]));
        self.record("LAST", &row([affn(x.last), last.0, last.1, "2".to_owned()]));
        self.record("MIN", &row([affn(left), low.0, low.1, "1".to_owned()]));
        self.record("MAX", &row([affn(right), high.0, high.1, "2".to_owned()]));
        self.record("FACTOR", &row(["1".to_owned(), affn(y[0].factor), affn(y[1].factor), "1".to_owned()]));
        for (page, (symbol, ordinates)) in ["R", "I"].into_iter().zip(y).enumerate() {
            self.record("PAGE", &format!("N={}", page + 1));
            self.record("DATA TABLE", &format!("(X++({symbol}..{symbol})), XYDATA"));
            self.table(x.steps, ordinates);
        }
        self.record("END NTUPLES", kind);
    }

    fn table(&mut self, x: Steps, y: &Ordinates<'_>) {
        match self.options.encoding {
            Encoding::Sqz => squeezed(&mut self.out, x, &y.counts),
            Encoding::Dif => differences(&mut self.out, x, &y.counts, false),
            Encoding::DifDup => differences(&mut self.out, x, &y.counts, true),
            encoding => plain(&mut self.out, x, y.values, encoding),
        }
    }
}

/// Factors of the file the data came from, if its labels were kept.
fn factors(acquisition: &Acquisition) -> Vec<f64> {
    let rows = ["YFACTOR", "FACTOR"].iter().filter_map(|label| acquisition.other.get(*label));
    rows.flat_map(|row| crate::jcamp::number::list(row)).filter(|factor| *factor != 0.0).collect()
}

fn values(array: &ndarray::Array1<f64>) -> Vec<f64> {
    array.iter().copied().collect()
}

fn extremes(values: &[f64]) -> (f64, f64) {
    if values.is_empty() {
        return (0.0, 0.0);
    }
    values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(*v), high.max(*v)))
}
