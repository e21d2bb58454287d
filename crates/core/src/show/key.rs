//! Short names by which one part of a show refers to another, and cue labels.

use crate::text_form::text_form;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;
use std::sync::Arc;

/// A key that was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" cannot be a key; use 1 to 48 small letters, digits and hyphens, such as \"warm-front\"")]
pub struct BadKey(String);

fn usable(text: &str) -> Result<Arc<str>, BadKey> {
    let fits = (1..=48).contains(&text.len())
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
    if fits { Ok(text.into()) } else { Err(BadKey(text.chars().take(60).collect())) }
}

macro_rules! keys {
    ($($(#[$doc:meta])* $name:ident = $text:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(Arc<str>);

        impl $name {
            /// The key's text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(&self.0)
            }
        }

        impl FromStr for $name {
            type Err = BadKey;
            fn from_str(text: &str) -> Result<$name, BadKey> {
                usable(text).map($name)
            }
        }

        text_form!($name, $text, "a key: small letters, digits and hyphens, at most 48", r"^[a-z0-9-]{1,48}$");
    )*};
}

keys! {
    /// Names a MIDI port.
    PortKey = "PortKey";
    /// Names a receiver.
    ReceiverKey = "ReceiverKey";
    /// Names a lighting preset.
    PresetKey = "PresetKey";
    /// Names a picture or film.
    MediaKey = "MediaKey";
    /// Names a media layer: where media plays before an output shows it.
    LayerKey = "LayerKey";
    /// Names an output.
    OutputKey = "OutputKey";
    /// Names a route.
    RouteKey = "RouteKey";
    /// Names a hang.
    HangKey = "HangKey";
    /// Names a release circuit.
    ReleaseKey = "ReleaseKey";
    /// Names a track.
    TrackKey = "TrackKey";
}

/// What kind of cue a track holds. Messages that are due together leave in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Lets fabric go.
    Release,
    /// Changes what an output shows.
    Output,
    /// Recalls a lighting preset.
    Lighting,
    /// Starts a picture or film.
    Media,
}

impl Kind {
    /// Rank in the sending order of messages that are due together; the lowest leaves first.
    pub const fn rank(self) -> u8 {
        self as u8
    }

    /// The rank of a message that ends another, such as a note off: after every kind.
    pub const END_RANK: u8 = Kind::Media as u8 + 1;

    /// All kinds, in sending order.
    pub const ALL: [Kind; 4] = [Kind::Release, Kind::Output, Kind::Lighting, Kind::Media];

    /// The letter that begins its labels.
    pub const fn letter(self) -> char {
        match self {
            Kind::Release => 'R',
            Kind::Output => 'O',
            Kind::Lighting => 'L',
            Kind::Media => 'M',
        }
    }

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Kind::Release => "release",
            Kind::Output => "output",
            Kind::Lighting => "lighting",
            Kind::Media => "media",
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// A cue's name within its service: kind letter and number, such as L12. It stays when the cue moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Label {
    /// What the cue is.
    pub kind: Kind,
    /// Its number, 1 to 999 999.
    pub number: u32,
}

impl Label {
    /// Highest number.
    pub const MAX: u32 = 999_999;

    /// Appends its text. Skips the formatting machinery, because exports do this a hundred thousand times.
    pub fn push_to(self, text: &mut String) {
        text.push(self.kind.letter());
        let mut unit = 100_000;
        while unit > 1 && self.number < unit {
            unit /= 10;
        }
        while unit > 0 {
            text.push(char::from_digit(self.number / unit % 10, 10).unwrap_or('0'));
            unit /= 10;
        }
    }
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut text = String::with_capacity(7);
        self.push_to(&mut text);
        f.pad(&text)
    }
}

/// A label that was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is not a cue label; write M, L, R or O and a number from 1 to 999999, such as L12")]
pub struct BadLabel(String);

impl FromStr for Label {
    type Err = BadLabel;

    fn from_str(text: &str) -> Result<Label, BadLabel> {
        let fail = || BadLabel(text.chars().take(20).collect());
        let letter = text.chars().next().ok_or_else(fail)?;
        let kind = Kind::ALL.into_iter().find(|k| k.letter() == letter).ok_or_else(fail)?;
        let digits = &text[letter.len_utf8()..];
        let plain = !digits.starts_with('0') && digits.bytes().all(|b| b.is_ascii_digit());
        let number = digits.parse().ok().filter(|n| plain && (1..=Label::MAX).contains(n)).ok_or_else(fail)?;
        Ok(Label { kind, number })
    }
}

text_form!(Label, "Label", "a cue label: M, L, R or O and a number", r"^[MLRO][1-9]\d{0,5}$");
