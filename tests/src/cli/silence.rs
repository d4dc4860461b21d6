//! The command `silence`.

use std::fmt::Write;

use clap::Args;

use crate::silence::table;

/// What a silence of the hand does to a board at 25 km/h: what is felt, and how far it goes.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// One JSON object instead of a table
    #[arg(long)]
    json: bool,
}

impl Arguments {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let rows = table()?;
        if self.json {
            return super::show(&(serde_json::to_string(&rows)? + "\n"));
        }
        let mut out = String::new();
        writeln!(out, "{}", super::typed())?;
        writeln!(
            out,
            "| the board's own brake | asked when it fell silent | felt after 0.1 s | 0.25 s | 1 s | 2 s | 5 s | a walk after | it stands after |"
        )?;
        writeln!(out, "| --- | --- | --- | --- | --- | --- | --- | --- | --- |")?;
        let when = |when: Option<(f64, f64)>| {
            when.map_or("-".to_owned(), |(seconds, way_m)| format!("{seconds:.1} s, {way_m:.1} m"))
        };
        for row in rows {
            write!(out, "| {:.1} m/s² | {:+.1} m/s² |", row.silent_brake_m_s2, row.asked_m_s2)?;
            for felt in row.felt_m_s2 {
                write!(out, " {felt:+.2} |")?;
            }
            writeln!(out, " {} | {} |", when(row.walk), when(row.stand))?;
        }
        super::show(&out)
    }
}
