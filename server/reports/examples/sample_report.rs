//! Writes the sample report in all forms to a folder, to be looked at:
//! `cargo run -p waybill_reports --example sample_report -- FOLDER [COPIES]`.
//! `COPIES` repeats the elements, to see and time a long report.

#[path = "../tests/sample/mod.rs"]
mod sample;

use std::error::Error;
use std::path::PathBuf;
use std::time::Instant;

type Render =
    fn(&waybill_domain::report::ClearanceReport) -> Result<Vec<u8>, waybill_reports::ReportError>;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let folder = PathBuf::from(arguments.next().ok_or("say into which folder")?);
    let copies: usize = arguments.next().map_or(Ok(1), |text| text.parse())?;
    let mut report = sample::sample();
    report.rows = vec![report.rows; copies].concat();
    report.uses = vec![report.uses; copies].concat();
    std::fs::create_dir_all(&folder)?;
    let forms: [(&str, Render); 4] = [
        ("pdf", waybill_reports::render_pdf),
        ("xlsx", waybill_reports::render_xlsx),
        ("csv", waybill_reports::render_csv),
        ("json", waybill_reports::render_json),
    ];
    for (ending, render) in forms {
        let begun = Instant::now();
        let bytes = render(&report)?;
        let path = folder.join(format!("sample.{ending}"));
        std::fs::write(&path, &bytes)?;
        println!(
            "{} {} bytes, {:?}",
            path.display(),
            bytes.len(),
            begun.elapsed()
        );
    }
    Ok(())
}
