//! The `homestretch` program.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::process::ExitCode;

use clap::Parser as _;
use homestretch_sim::cli;

fn main() -> ExitCode {
    // Bad usage ends here, with status 2 and a word on how it is meant.
    let arguments = cli::Arguments::parse();
    match cli::run(arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("homestretch: {error:#}");
            ExitCode::from(1)
        }
    }
}
