//! What a block says of the experiment.

use lees_core::{Acquisition, Degrees, Megahertz, Seconds};

use crate::document::Block;

/// 0 degrees Celsius in kelvin.
const CELSIUS_ZERO: f64 = 273.15;

/// Values of `Acquisition::other` are cut to this many characters.
const LONGEST_KEPT: usize = 200;

impl Block {
    /// Everything known of the experiment; what the file does not say is `None`.
    ///
    /// ```
    /// use lees_core::{Degrees, Megahertz};
    /// let text = "# pulse angle = 30 degrees\n# relaxation delay = 25 s\n# scans = 32\n9.0\t1\n8.5\t1\n8.0\t2\n7.5\t1\n7.0\t1\n";
    /// let document = lees_format::read(text.as_bytes(), "a.txt", &Default::default())?;
    /// let known = document.blocks[0].acquisition(Megahertz(400.0));
    /// assert_eq!((known.scans, known.pulse_angle), (Some(32), Some(Degrees(30.0))));
    /// assert_eq!(known.temperature_k, None, "not said");
    /// # Ok::<(), lees_format::FormatError>(())
    /// ```
    #[must_use]
    pub fn acquisition(&self, field: Megahertz) -> Acquisition {
        let other = self.labels.iter().filter(|(_, value)| !value.is_empty());
        Acquisition {
            title: self.title.clone(),
            nucleus: self.nucleus.clone(),
            field,
            field_assumed: self.field.is_none(),
            solvent: self.solvent.clone(),
            scans: self.scans(),
            relaxation_delay: self.relaxation_delay().map(Seconds),
            acquisition_time: self.stated_acquisition_time().map(Seconds),
            pulse_angle: self.pulse_angle().map(Degrees),
            temperature_k: self.temperature(),
            other: other.map(|(k, v)| (k.clone(), v.chars().take(LONGEST_KEPT).collect())).collect(),
        }
    }

    fn scans(&self) -> Option<u32> {
        let count = [".AVERAGES", "$SCANS", "$NS"].iter().find_map(|label| self.number(label))?;
        (count >= 1.0 && count <= f64::from(u32::MAX)).then_some(count as u32)
    }

    /// Delay before the pulse: stated, or the second entry of the array of delays (common practice, no source).
    fn relaxation_delay(&self) -> Option<f64> {
        let stated = ["$RELAXATIONDELAY", "$D1"].iter().find_map(|label| self.number(label));
        stated.or_else(|| self.entry("$D", 1)).filter(|delay| *delay >= 0.0)
    }

    fn stated_acquisition_time(&self) -> Option<f64> {
        let stated = [".ACQUISITIONTIME", "$AQ"].iter().find_map(|label| self.number(label));
        let from_counts = || {
            // Real and imaginary points are counted each: TD / (2 SW).
            let (count, width) = (self.number("$TD")?, self.number("$SWH")?);
            Some(count / (2.0 * width))
        };
        stated.or_else(from_counts).filter(|time| *time > 0.0 && time.is_finite())
    }

    /// Stated; or pulse length over the length of a 90 degree pulse; or the number in the name of the pulse
    /// sequence, `zg30` being a 30 degree pulse (common practice, no source).
    fn pulse_angle(&self) -> Option<f64> {
        let from_lengths = || {
            let (pulse, ninety) = (self.number("$XPULSE")?, self.number(".OBSERVE90")?);
            Some(90.0 * pulse / ninety)
        };
        let from_name = || {
            let name = self.labels.get(".PULSESEQUENCE").or_else(|| self.labels.get("$PULPROG"))?;
            match name.trim_matches(['<', '>', ' ']).to_ascii_lowercase().strip_prefix("zg")? {
                "" => Some(90.0),
                digits => digits.parse().ok(),
            }
        };
        let angle = self.number("$PULSEANGLE").or_else(from_lengths).or_else(from_name)?;
        (angle > 0.0 && angle <= 360.0).then_some(angle)
    }

    /// In kelvin. The standard's TEMPERATURE is in degrees Celsius.
    fn temperature(&self) -> Option<f64> {
        let kelvin = ["$TEMPERATUREK", "$TE"].iter().find_map(|label| self.number(label));
        let celsius = || self.number("TEMPERATURE").map(|t| t + CELSIUS_ZERO);
        kelvin.filter(|t| *t > 0.0).or_else(celsius).filter(|t| (50.0..1000.0).contains(t))
    }

    /// An entry of an array such as `$D= (0..31)` followed by its numbers.
    fn entry(&self, label: &str, index: usize) -> Option<f64> {
        let text = self.labels.get(label)?;
        let numbers = text.split_once(')').map_or(text.as_str(), |(_, rest)| rest);
        crate::jcamp::number::list(numbers).get(index).copied()
    }
}
