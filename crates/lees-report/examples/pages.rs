//! Writes the pages that the browser test opens, of invented spectra: `pages FOLDER`.
#[path = "../tests/fixture/mod.rs"]
mod fixture;

use std::error::Error;
use std::path::PathBuf;

use lees_report::page::{PageOptions, html, pdf};

/// Spectra on the large page.
const MANY: usize = 50;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("name a folder")?);
    let options = PageOptions::default();
    let mut hostile = fixture::batch(0.05, "wet.jdx");
    hostile.input.title = "LD-7 </title><script>window.owned = true</script> & \"crystals\"".to_owned();
    hostile.volatiles[0].name = "2-propanol<img src=x onerror=\"window.owned = true\">".to_owned();
    hostile.warnings.push("</script><script>window.owned = true</script>".to_owned());
    let wet = fixture::batch(0.05, "wet.jdx");
    std::fs::write(folder.join("hostile.html"), html(&[&hostile], &options)?)?;
    std::fs::write(folder.join("one.html"), html(&[&wet], &options)?)?;
    let dried = |k: usize| {
        let title = format!("LD-7, dried {k} h");
        let left = 0.06 * libm::exp(-0.12 * k as f64);
        fixture::check(&fixture::dye(), &fixture::solvents(left)[..1], &format!("dry-{k:02}.jdx"), &title)
    };
    let many: Vec<_> = (0..MANY).map(dried).collect();
    let many: Vec<_> = many.iter().collect();
    std::fs::write(folder.join("many.html"), html(&many, &options)?)?;
    std::fs::write(folder.join("one.pdf"), pdf(&[&wet, &hostile], &options)?)?;
    Ok(())
}
