//! Words to and from the host, through semihosting, without `core::fmt`.
//!
//! Semihosting is ARM's way for a core to ask its debugger (here the emulator) for input and
//! output; see "Semihosting for AArch32 and AArch64", ARM's open specification.

use cortex_m_semihosting::{debug, hio};

/// Puts text on the host's standard output; nowhere where there is no host.
pub fn say(text: &str) {
    if let Ok(mut out) = hio::hstdout() {
        let _ = out.write_all(text.as_bytes());
    }
}

/// One line, built piece by piece and said at once: each word to the host costs an exception.
#[derive(Debug, Default)]
pub struct Line {
    bytes: heapless::Vec<u8, 120>,
}

impl Line {
    /// A line that begins with a word.
    #[must_use]
    pub fn of(word: &str) -> Self {
        Self::default().text(word)
    }

    fn text(mut self, text: &str) -> Self {
        for &byte in text.as_bytes() {
            // What does not fit is left out.
            let _ = self.bytes.push(byte);
        }
        self
    }

    /// A word more.
    #[must_use]
    pub fn word(self, word: &str) -> Self {
        self.text(" ").text(word)
    }

    /// A number more, as eight hexadecimal digits.
    #[must_use]
    pub fn hex(mut self, number: u32) -> Self {
        let _ = self.bytes.push(b' ');
        for byte in number.to_be_bytes() {
            for nibble in [byte >> 4, byte & 15] {
                let digit = if nibble < 10 { b'0' } else { b'a' - 10 };
                let _ = self.bytes.push(digit.wrapping_add(nibble));
            }
        }
        self
    }

    /// Says it.
    pub fn end(mut self) {
        let _ = self.bytes.push(b'\n');
        if let Ok(mut out) = hio::hstdout() {
            let _ = out.write_all(&self.bytes);
        }
    }
}

/// Ends the machine, well or not.
pub fn leave(well: bool) -> ! {
    debug::exit(if well { debug::EXIT_SUCCESS } else { debug::EXIT_FAILURE });
    loop {
        cortex_m::asm::wfi();
    }
}
