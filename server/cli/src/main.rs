//! The program `waybill`.

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(waybill_cli::run(std::env::args_os()))
}
