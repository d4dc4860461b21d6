//! A piece of a foreign file, made fit to stand in a one-line message.
//!
//! Used by every error of this room: files may hold anything, terminals should not.

use std::fmt::Write as _;

/// The most characters that are shown of one value.
const LONGEST: usize = 40;

/// The most names that are listed in one message.
const MOST: usize = 16;

/// `text` without control characters and cut to a readable length.
pub(super) fn excerpt(text: &str) -> String {
    let mut shown = String::new();
    for (count, letter) in text.trim().chars().enumerate() {
        if count == LONGEST {
            shown.push('…');
            break;
        }
        if letter.is_control() {
            // Writing to a string does not fail.
            let _ = write!(shown, "{}", letter.escape_debug());
        } else {
            shown.push(letter);
        }
    }
    shown
}

/// The names in backticks with commas between, the first few where there are many.
pub(super) fn listed<S: AsRef<str>>(names: &[S]) -> String {
    let mut shown = names
        .iter()
        .take(MOST)
        .map(|name| format!("`{}`", excerpt(name.as_ref())))
        .collect::<Vec<_>>()
        .join(", ");
    if names.len() > MOST {
        let _ = write!(shown, " and {} more", names.len() - MOST);
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_value_is_shown_as_it_is() {
        assert_eq!(excerpt(" 12,5 "), "12,5");
    }

    #[test]
    fn a_long_value_is_cut_and_a_line_break_cannot_hide_in_it() {
        assert_eq!(excerpt("a\nb\u{1b}"), "a\\nb\\u{1b}");
        assert_eq!(excerpt(&"x".repeat(500)).chars().count(), LONGEST + 1);
    }

    #[test]
    fn a_long_list_says_how_much_is_left_out() {
        let names = vec!["a"; MOST + 3];
        assert!(listed(&names).ends_with("`a` and 3 more"));
        assert_eq!(listed(&["a", "b"]), "`a`, `b`");
    }
}
