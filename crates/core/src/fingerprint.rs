//! Fingerprints of what was printed or written: short enough to be read aloud, so that a sheet in the hand can be compared with the plan
//! of now.

use crate::fnv::Fnv;
use std::fmt;
use std::hash::Hasher as _;
use std::str::FromStr;

/// The fingerprint of a sheet or file, written as `K7Q2-9FXD`. Equal contents have equal fingerprints on every machine; different ones
/// have different fingerprints but for one case in a million million. It guards against mistakes, not against forgery.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Fingerprint(u64);

/// Digits and letters without those that are easily mistaken for one another: no I, L, O, U.
const SIGNS: [u8; 32] = *b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// How many signs a fingerprint has, of five bits each.
const LENGTH: u32 = 8;

impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = |at: u32| char::from(SIGNS[(self.0 >> (5 * (LENGTH - 1 - at)) & 31) as usize]);
        let text: String = (0..LENGTH).map(sign).collect();
        f.pad(&format!("{}-{}", &text[..4], &text[4..]))
    }
}

/// A text that is no fingerprint.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no fingerprint; it is printed beside the version, such as K7Q2-9FXD")]
pub struct NoFingerprint(String);

impl FromStr for Fingerprint {
    type Err = NoFingerprint;

    /// Reads one as people type it: small letters, blanks or nothing for the hyphen, O for 0, I or L for 1.
    fn from_str(text: &str) -> Result<Fingerprint, NoFingerprint> {
        let fail = || NoFingerprint(text.to_owned());
        let signs = text.chars().filter(|c| !matches!(c, '-' | '–' | ' '));
        let mut value = 0;
        let mut count = 0;
        for sign in signs {
            let sign = match sign.to_ascii_uppercase() {
                'O' => '0',
                'I' | 'L' => '1',
                other => other,
            };
            let at = SIGNS.iter().position(|s| char::from(*s) == sign).ok_or_else(fail)?;
            value = value * 32 + at as u64;
            count += 1;
            if count > LENGTH {
                return Err(fail());
            }
        }
        if count == LENGTH { Ok(Fingerprint(value)) } else { Err(fail()) }
    }
}

/// Works out a fingerprint from parts. Each part ends where it ends: "ab" and "c" differ from "a" and "bc".
#[derive(Debug, Clone, Copy, Default)]
pub struct FingerprintMaker(Fnv);

impl FingerprintMaker {
    /// Begins with what it is a fingerprint of, such as "click".
    pub fn new(what: &str) -> FingerprintMaker {
        let mut maker = FingerprintMaker::default();
        maker.text(what);
        maker
    }

    /// Adds bytes.
    pub fn bytes(&mut self, bytes: &[u8]) {
        self.number(i64::try_from(bytes.len()).unwrap_or(i64::MAX));
        self.0.write(bytes);
    }

    /// Adds a text.
    pub fn text(&mut self, text: &str) {
        self.bytes(text.as_bytes());
    }

    /// Adds a whole number.
    pub fn number(&mut self, number: i64) {
        self.0.write(&number.to_le_bytes());
    }

    /// The fingerprint.
    pub fn finish(&self) -> Fingerprint {
        let all = self.0.finish();
        // The upper bits of FNV mix worse than the lower, so both halves go in.
        Fingerprint((all ^ all >> 24) & ((1 << (5 * LENGTH)) - 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(parts: &[&str]) -> Fingerprint {
        let mut maker = FingerprintMaker::new("test");
        for part in parts {
            maker.text(part);
        }
        maker.finish()
    }

    #[test]
    fn parts_are_kept_apart() {
        assert_eq!(of(&["ab", "c"]), of(&["ab", "c"]));
        assert_ne!(of(&["ab", "c"]), of(&["a", "bc"]));
        assert_ne!(of(&["ab"]), of(&["ab", ""]));
        let number = |number| {
            let mut maker = FingerprintMaker::new("n");
            maker.number(number);
            maker.finish()
        };
        assert_ne!(number(1), number(-1));
    }

    #[test]
    fn it_is_read_as_people_type_it() {
        for text in ["a", "b", "much longer than that"] {
            let print = of(&[text]);
            let written = print.to_string();
            assert_eq!((written.len(), written.as_bytes()[4]), (9, b'-'), "{written}");
            let typed = [
                written.clone(),
                written.to_lowercase(),
                written.replace('-', ""),
                written.replace('-', " "),
                written.replace('0', "o").replace('1', "l"),
            ];
            for text in typed {
                assert_eq!(text.parse(), Ok(print), "{text}");
            }
        }
        for wrong in ["", "K7Q2-9FX", "K7Q2-9FXDD", "K7Q2-9FX!", "K7Q2-9FXU"] {
            assert!(wrong.parse::<Fingerprint>().is_err(), "{wrong}");
        }
    }

    /// The known answer for one input, by FNV-1a of it worked out in Python: folded by 24 bits, eight signs of five bits.
    #[test]
    fn a_known_fingerprint() {
        assert_eq!(of(&["abc"]).to_string(), "T2JY-QHQ0");
    }

    /// Ten thousand contents that differ by one number have ten thousand fingerprints.
    #[test]
    fn small_changes_show() {
        let all: std::collections::BTreeSet<Fingerprint> = (0..10_000).map(|n| of(&[&n.to_string()])).collect();
        assert_eq!(all.len(), 10_000);
    }
}
