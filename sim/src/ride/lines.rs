//! Makes a foreign text safe to split: every line ends in one way, none is endless.
//!
//! Stands between a file and `table`. The splitter behind it counts line feeds, so that carriage
//! returns would make its line numbers wrong; and it takes a line break inside quotes for text,
//! so that one stray quotation mark would swallow the rest of the ride, memory and all.
//! Source: RFC 4180 for the quotes; the bound is common practice, no source.

use std::fmt;
use std::io::{self, BufRead, Read};

/// Bytes of the longest line that is taken. A row of a ride has a few hundred.
pub(super) const LONGEST_LINE: usize = 1 << 20;

/// What is wrong with a line before anyone looks at its fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LineFault {
    /// Longer than [`LONGEST_LINE`].
    TooLong {
        /// Counted from 1.
        line: u64,
    },
    /// A quotation mark is not closed.
    OpenQuote {
        /// Counted from 1.
        line: u64,
    },
}

impl fmt::Display for LineFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong { line } => write!(f, "line {line} is too long"),
            Self::OpenQuote { line } => write!(f, "line {line} leaves a quotation mark open"),
        }
    }
}

impl std::error::Error for LineFault {}

/// A reader that hands on the same text with `\n` after every line, the last included.
#[derive(Debug)]
pub(super) struct Lines<B> {
    source: B,
    gate: Gate,
    fault: Option<LineFault>,
}

impl<B: BufRead> Lines<B> {
    /// The lines of `source`.
    pub(super) const fn new(source: B) -> Self {
        Self {
            source,
            gate: Gate { line: 1, length: 0, quote_open: false, after_return: false },
            fault: None,
        }
    }
}

impl<B: BufRead> Read for Lines<B> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let mut written = 0;
        while written == 0 && !out.is_empty() {
            if let Some(fault) = self.fault {
                return Err(io::Error::new(io::ErrorKind::InvalidData, fault));
            }
            let ahead = self.source.fill_buf()?;
            if ahead.is_empty() {
                if self.gate.length == 0 {
                    return Ok(0);
                }
                // The last line lacks its end: it gets one like the others.
                match self.gate.step(b'\n') {
                    Ok(_) => {
                        out[0] = b'\n';
                        return Ok(1);
                    }
                    Err(fault) => self.fault = Some(fault),
                }
                continue;
            }
            let taken = ahead.len().min(out.len());
            for &byte in &ahead[..taken] {
                match self.gate.step(byte) {
                    Ok(None) => {}
                    Ok(Some(handed_on)) => {
                        out[written] = handed_on;
                        written += 1;
                    }
                    Err(fault) => {
                        // What stands before it is handed on first.
                        self.fault = Some(fault);
                        break;
                    }
                }
            }
            self.source.consume(taken);
        }
        Ok(written)
    }
}

/// Where in the text the next byte falls.
#[derive(Debug)]
struct Gate {
    line: u64,
    length: usize,
    quote_open: bool,
    after_return: bool,
}

impl Gate {
    /// What to hand on for one byte; `None` for the second half of a line's end.
    fn step(&mut self, byte: u8) -> Result<Option<u8>, LineFault> {
        let second_half = byte == b'\n' && self.after_return;
        self.after_return = byte == b'\r';
        if second_half {
            return Ok(None);
        }
        let line = self.line;
        if byte == b'\n' || byte == b'\r' {
            if self.quote_open {
                return Err(LineFault::OpenQuote { line });
            }
            self.line += 1;
            self.length = 0;
            return Ok(Some(b'\n'));
        }
        self.quote_open ^= byte == b'"';
        self.length += 1;
        if self.length > LONGEST_LINE {
            return Err(LineFault::TooLong { line });
        }
        Ok(Some(byte))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(text: &[u8]) -> Result<String, LineFault> {
        let mut out = String::new();
        // A small buffer, so that its borders fall between any two bytes.
        let small = io::BufReader::with_capacity(3, text);
        match Lines::new(small).read_to_string(&mut out) {
            Ok(_) => Ok(out),
            Err(error) => Err(*error.get_ref().unwrap().downcast_ref().unwrap()),
        }
    }

    #[test]
    fn all_line_ends_become_one() {
        assert_eq!(through(b"a\r\nb\rc\nd").unwrap(), "a\nb\nc\nd\n");
        assert_eq!(through(b"a\n\n\r\n\r\rb\n").unwrap(), "a\n\n\n\n\nb\n");
        assert_eq!(through(b"").unwrap(), "");
    }

    #[test]
    fn a_quotation_mark_left_open_is_found_on_its_line() {
        assert_eq!(through(b"a\n\"b\nc\n").unwrap_err(), LineFault::OpenQuote { line: 2 });
        assert_eq!(through(b"a\r\nb\r\n\"c").unwrap_err(), LineFault::OpenQuote { line: 3 });
        assert_eq!(through(b"\"a,\"\"b\"\n").unwrap(), "\"a,\"\"b\"\n");
    }

    #[test]
    fn an_endless_line_ends() {
        let mut lines = Lines::new(io::BufReader::new(io::repeat(b'x')));
        let error = io::copy(&mut lines, &mut io::sink()).unwrap_err();
        let fault: &LineFault = error.get_ref().unwrap().downcast_ref().unwrap();
        assert_eq!(*fault, LineFault::TooLong { line: 1 });
    }
}
