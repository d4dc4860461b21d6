//! The `homestretch` program.

#![allow(non_snake_case, reason = "quantities carry their unit's own symbol")]

use std::process::ExitCode;

use clap::Parser as _;
use homestretch_sim::cli;

fn main() -> ExitCode {
    // Bad usage ends here, with status 2 and a word on how it is meant.
    let arguments = cli::Arguments::parse();
    match cli::run(arguments) {
        Ok(code) => code,
        Err(error) => {
            eprintln!("homestretch: {}", told(&error));
            ExitCode::from(1)
        }
    }
}

/// An error with its causes, in one line; what a message says already is not said again.
fn told(error: &anyhow::Error) -> String {
    error.chain().map(ToString::to_string).fold(String::new(), |told, cause| {
        if told.is_empty() {
            cause
        } else if told.ends_with(&cause) {
            told
        } else {
            format!("{told}: {cause}")
        }
    })
}
