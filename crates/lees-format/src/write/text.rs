//! Plain text: header lines, then columns between tabs.

use lees_core::{Acquisition, Fid, Measurement, Spectrum};

use super::{WriteOptions, Written, one_line};

/// Writes a measurement as columns: shift, real and perhaps imaginary part of a spectrum; time, real and
/// imaginary part of an FID. Nothing is lost.
///
/// ```
/// use lees_core::{Acquisition, Measurement, Megahertz, Ppm, ShiftAxis, Spectrum};
/// let field = Megahertz(300.0);
/// let spectrum = Measurement::Spectrum(Spectrum {
///     axis: ShiftAxis::new(Ppm(10.0), Ppm(9.0), 3, field).expect("falls"),
///     real: vec![0.0, 5.5, 2.0].into(),
///     imaginary: None,
///     acquisition: Acquisition::at_field(field),
/// });
/// let written = lees_format::write::text(&spectrum, &Default::default());
/// let text = String::from_utf8(written.bytes).expect("text");
/// assert!(text.contains("# observe frequency = 300 MHz") && text.ends_with("10\t0\n9.5\t5.5\n9\t2\n"), "{text}");
/// ```
#[must_use]
pub fn text(measurement: &Measurement, options: &WriteOptions) -> Written {
    let mut out = String::new();
    head(&mut out, measurement.acquisition(), options);
    match measurement {
        Measurement::Spectrum(spectrum) => spectrum_rows(&mut out, spectrum),
        Measurement::Fid(fid) => fid_rows(&mut out, fid),
    }
    Written { bytes: out.into_bytes(), rounding: 0.0 }
}

fn entry(out: &mut String, key: &str, value: Option<String>) {
    if let Some(value) = value.filter(|value| !value.is_empty()) {
        out.push_str(&format!("# {key} = {value}\n"));
    }
}

fn head(out: &mut String, acquisition: &Acquisition, options: &WriteOptions) {
    entry(out, "title", Some(one_line(&acquisition.title)));
    entry(out, "observe frequency", Some(format!("{} MHz", acquisition.field.value())));
    entry(out, "nucleus", acquisition.nucleus.as_ref().map(|n| n.name().to_owned()));
    entry(out, "solvent", acquisition.solvent.as_deref().map(one_line));
    entry(out, "scans", acquisition.scans.map(|n| n.to_string()));
    entry(out, "acquisition time", acquisition.acquisition_time.map(|t| t.to_string()));
    entry(out, "relaxation delay", acquisition.relaxation_delay.map(|t| t.to_string()));
    entry(out, "pulse angle", acquisition.pulse_angle.map(|a| a.to_string()));
    entry(out, "temperature K", acquisition.temperature_k.map(|t| t.to_string()));
    for step in &options.history {
        entry(out, "history", Some(one_line(step)));
    }
}

fn spectrum_rows(out: &mut String, spectrum: &Spectrum) {
    out.push_str(if spectrum.imaginary.is_some() {
        "# columns: ppm real imag\n"
    } else {
        "# columns: ppm real\n"
    });
    for (index, real) in spectrum.real.iter().enumerate() {
        out.push_str(&format!("{}\t{real}", spectrum.axis.shift(index).value()));
        if let Some(imaginary) = &spectrum.imaginary {
            out.push_str(&format!("\t{}", imaginary[index]));
        }
        out.push('\n');
    }
}

fn fid_rows(out: &mut String, fid: &Fid) {
    entry(out, "carrier", fid.carrier.map(|c| c.to_string()));
    entry(out, "group delay", fid.group_delay.map(|d| d.to_string()));
    out.push_str("# columns: time_s real imag\n");
    let (real, imaginary) = crate::measurement::stored(&fid.points);
    for (index, (real, imaginary)) in real.iter().zip(&imaginary).enumerate() {
        out.push_str(&format!("{}\t{real}\t{imaginary}\n", fid.dwell.value() * index as f64));
    }
}
