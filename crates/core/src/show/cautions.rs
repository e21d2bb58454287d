//! What must be said wherever a release is planned: on screen, on paper, in the README. One wording for all.

use super::ReleaseKind;

/// About the switch that no program replaces.
pub const KEY_SWITCH: [&str; 2] = [
    "Software is not an interlock. Have a key-enabled, spring-return switch, pressed by the person who sees the drop zone and wired by an electrician so that letting go of it keeps the fabric up.",
    "A key left turned on protects nobody.",
];

/// What stop-all is and is not.
pub const STOP_ALL: &str = "Stop-all stops messages. It does not stop the music, raise the house lights, blank projectors or isolate the release.";

/// About files that hold releases.
pub const FILE: &str = "An exported file with releases asks for no arm: whoever plays it fires them.";

/// About desks that recall a switched circuit.
pub const DESK: &str = "A desk's own blackout, master and tracked cues can fire a circuit that hangs on it.";

/// About power that is lost while a contact is closed.
pub const POWER_LOSS: &str = "If this machine or its power dies while a contact is closed, nothing here can open it again: the box itself must, by a timer of its own.";

/// What this program is not, by the standards' own words.
pub const NOT_AN_EMERGENCY_STOP: &str = "Letfall implements neither ISO 13850 (emergency stop) nor IEC 60204-1 (electrical equipment of machines): stop-all is no emergency stop, and the hold is no enabling device.";

/// How the key switch belongs to a release, by what lets go.
pub const fn switch_for(kind: ReleaseKind) -> &'static str {
    match kind {
        ReleaseKind::Unknown => {
            "Key switch: settle first whether power lets go or holds; the two are wired in opposite ways."
        }
        ReleaseKind::Energise => {
            "Key switch: in series with the contact, so that letting go of it keeps the fabric up."
        }
        ReleaseKind::Deenergise => {
            "Key switch: NEVER in series, because opening it drops the fabric, but a spring-closed bypass across the contact, pressed open to enable. Power loss still drops the fabric."
        }
    }
}

/// What must not be done at a release of a kind, if anything.
pub const fn never_for(kind: ReleaseKind) -> &'static str {
    match kind {
        ReleaseKind::Deenergise => "Do not cut the power: that drops the fabric.",
        ReleaseKind::Unknown | ReleaseKind::Energise => "",
    }
}
