//! Fourier transform of complex numbers, one `re im` pair a line, from standard input to standard output, as the
//! library does it: for comparison with other libraries.
#![allow(clippy::print_stdout)]

use std::io::Read;

use lees_process::Workspace;
use num_complex::Complex64;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut text = String::new();
    std::io::stdin().read_to_string(&mut text)?;
    let mut points = Vec::new();
    for line in text.lines() {
        let (re, im) = line.split_once(' ').ok_or("each line holds `re im`")?;
        points.push(Complex64::new(re.parse()?, im.parse()?));
    }
    Workspace::new().forward(&mut points);
    for point in points {
        println!("{:e} {:e}", point.re, point.im);
    }
    Ok(())
}
