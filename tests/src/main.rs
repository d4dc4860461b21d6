//! The program `homestretch-checks`: exits 0 on success, 2 on bad usage, 1 on an error that it
//! explains on standard error.

use std::process::ExitCode;

use clap::Parser;
use homestretch_checks::cli::Arguments;

fn main() -> ExitCode {
    match Arguments::parse().run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::FAILURE
        }
    }
}
