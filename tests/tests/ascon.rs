//! Ascon-AEAD128 against the standard's known answers.
//!
//! Source: NIST SP 800-232 and the known answers of its reference code; `data/README.md` tells where they
//! come from.

use std::fs;
use std::path::Path;

use homestretch::link::{Ascon, Key};

/// The bytes 0, 1, 2, ...: the reference code's key, nonce, text and data are all made of them.
fn counting(length: usize) -> Vec<u8> {
    (0..=u8::MAX).take(length).collect()
}

fn bytes(hex: &str) -> Vec<u8> {
    let digit = |at: usize| u8::from_str_radix(&hex[at..at + 2], 16).unwrap();
    (0..hex.len()).step_by(2).map(digit).collect()
}

// Source: the 1089 known-answer vectors of Ascon-AEAD128 (NIST SP 800-232), from the reference code, as
// the crate `ascon-aead` 0.6.0 carries them in tests/data/ascon128.txt. Texts and data of 0 to 32
// bytes. A tag of 64 bits is the first half of theirs.
#[test]
fn source_all_known_answers_of_the_standard_come_out_sealed_and_opened() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/ascon/known_answers.csv");
    let table = fs::read_to_string(path).unwrap();
    let (key, nonce) = (counting(16).try_into().unwrap(), counting(16).try_into().unwrap());
    let cipher = Ascon::new(Key::new(key).unwrap());
    let mut checked = 0;
    for line in table.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let [text, beside] = [0, 1].map(|cell| counting(cells[cell].parse().unwrap()));
        let sealed = bytes(cells[2]);
        let (expected, tag) = sealed.split_at(text.len());
        assert_eq!(tag.len(), 16);
        let half: [u8; 8] = tag[..8].try_into().unwrap();
        let mut work = text.clone();
        assert_eq!(cipher.seal_beside(&nonce, &beside, &mut work), half, "{line}");
        assert_eq!(work, expected, "{line}");
        assert!(cipher.open_beside(&nonce, &beside, &mut work, &half), "{line}");
        assert_eq!(work, text, "{line}");
        // The other half is no tag.
        let other: [u8; 8] = tag[8..].try_into().unwrap();
        assert!(!cipher.open_beside(&nonce, &beside, &mut expected.to_vec(), &other), "{line}");
        checked += 1;
    }
    assert_eq!(checked, 1089);
}
