//! The door `log`.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| homestretch_checks::fuzz::door("log", bytes));
