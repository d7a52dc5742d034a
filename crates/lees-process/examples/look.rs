//! Processes a spectrum file and writes every intermediate as CSV, for looking at: `look FILE OUT.csv [BLOCK]`.

use std::fmt::Write as _;

use lees_process::{Settings, Workspace, process};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(file), Some(out)) = (arguments.next(), arguments.next()) else {
        return Err("usage: look FILE OUT.csv [BLOCK]".into());
    };
    let block: usize = arguments.next().map_or(Ok(0), |text| text.parse())?;
    let document = lees_format::read(&std::fs::read(&file)?, &file, &lees_format::ReadOptions::default())?;
    let measurement = document.blocks.get(block).ok_or("no such block")?.measurement()?;
    let clock = std::time::Instant::now();
    let done = process(&measurement, &Settings::default(), &mut Workspace::default())?;
    let mut text = format!("# {:?}\n", clock.elapsed());
    writeln!(
        text,
        "# shape {:?} sigma {} colour {:.2}",
        done.shape.parameters(),
        done.noise.typical(),
        done.noise.colour()
    )?;
    writeln!(
        text,
        "# phase {:.2} +- {:.2}, {:.2}",
        done.phase.ph0_deg, done.phase.u_ph0_deg, done.phase.ph1_deg
    )?;
    writeln!(text, "# baseline {:.1} sigma; {}", done.baseline_over_sigma(), done.warnings.join("; "))?;
    for line in &done.lines {
        writeln!(
            text,
            "# line {:9.4} w {:7.3} h/s {:10.1} area {:12.4} u {:9.4} {:?} {:?}",
            line.shift.0,
            line.width.0,
            line.height / done.noise.typical(),
            line.area,
            line.area_u,
            line.kind,
            line.parent
        )?;
    }
    for signal in &done.multiplets {
        let j: Vec<String> = signal.couplings.iter().map(|(j, _)| format!("{:.2}", j.0)).collect();
        writeln!(
            text,
            "# signal {:9.4} {} J {} area {:.4}",
            signal.shift.0,
            signal.multiplicity,
            j.join(" "),
            signal.area
        )?;
    }
    writeln!(text, "shift,real,baseline,model")?;
    for (i, value) in done.spectrum.real.iter().enumerate() {
        writeln!(text, "{},{},{},{}", done.spectrum.axis.shift(i).0, value, done.baseline[i], done.model[i])?;
    }
    std::fs::write(out, text)?;
    Ok(())
}
