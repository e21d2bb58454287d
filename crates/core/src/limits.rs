//! The range, unit and step of every number that a person can enter, defined once.
//!
//! [`crate::show::Show::validate`], the schema of the show file and the fields of the editor all read these limits. So the
//! editor can show every number that a file may hold, and the other way round.

use crate::time::{SongSpan, SongTime};
use std::ops::RangeInclusive;

/// The limits of one number in a show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// Which number: its type and field in the show file, such as `Hang.width_m`.
    pub field: &'static str,
    /// Its name in a sentence, such as "its width".
    pub what: &'static str,
    /// Minimum, in its unit.
    pub low: f64,
    /// Maximum, in its unit.
    pub high: f64,
    /// The unit used in the file; empty for a plain number.
    pub unit: &'static str,
    /// How much one step of a control changes it, in its unit.
    pub step: f64,
}

impl Limit {
    /// The range, in its unit.
    pub const fn range(&self) -> RangeInclusive<f64> {
        self.low..=self.high
    }

    /// Checks that a number is within the limit.
    ///
    /// # Errors
    /// A message that names the number and says what is allowed.
    pub fn check(&self, value: f64) -> Result<(), String> {
        if value.is_finite() && self.range().contains(&value) {
            return Ok(());
        }
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        Err(format!("{} is {value}{unit}; give {} to {}{unit}", self.what, self.low, self.high))
    }
}

macro_rules! limits {
    ($($name:ident = $field:literal, $what:literal, $low:expr, $high:expr, $unit:literal, $step:expr;)*) => {
        $(
            #[doc = concat!("`", $field, "`, ", $unit, ".")]
            pub const $name: Limit =
                Limit { field: $field, what: $what, low: $low, high: $high, unit: $unit, step: $step };
        )*

        /// All limits.
        pub const ALL: &[Limit] = &[$($name),*];
    };
}

/// An hour in microseconds: the limit for latencies, fades and most other durations.
const HOUR: f64 = 3_600_000_000.0;
/// A day in microseconds: song times lie within a day of the song's start.
const DAY: f64 = SongTime::MAX.micros() as f64;
/// The most bars that a song may have, and the highest bar that a mark may stand at.
const BARS: f64 = 1_000_000.0;
/// A millisecond in microseconds.
const MS: f64 = 1000.0;
/// A tenth of a second in microseconds.
const TENTH: f64 = 100_000.0;
/// Ten billion units of a currency, in hundredths.
const MONEY: f64 = 1_000_000_000_000.0;

limits! {
    STANDBY = "Settings.standby_us", "the standby", 0.0, HOUR, "µs", TENTH;
    RELEASE_STANDBY = "Settings.release_standby_us", "the standby of a release", 0.0, HOUR, "µs", TENTH;
    PERSON = "Settings.person_us", "the time from a word to a press", 0.0, HOUR, "µs", MS;
    PERSON_SPREAD = "Settings.person_spread_us", "how far that time spreads", 0.0, HOUR, "µs", MS;
    BEFORE_DOORS = "Settings.before_doors_min", "the minutes before the doors", 0.0, 600.0, "minutes", 1.0;
    SPEECH_RATE = "Settings.words_per_minute", "the speech rate", 30.0, 600.0, "words a minute", 1.0;
    EARLY = "Settings.early_us", "the early tolerance", 0.0, HOUR, "µs", MS;
    LATE = "Settings.late_us", "the late tolerance", 0.0, HOUR, "µs", MS;
    GAP = "Settings.gap_us", "the gap at a handover", 0.0, HOUR, "µs", MS;
    COUNT_IN = "Settings.count_in_bars", "the count-in", 0.0, 64.0, "bars", 1.0;
    SEAT = "Settings.seat_m", "the distance to the seat", 0.0, 1000.0, "m", 0.1;
    AIR = "Settings.air_c", "the air temperature", -40.0, 60.0, "°C", 0.5;
    LATENCY = "Latency.mean_us", "its latency", 0.0, HOUR, "µs", MS;
    LATENCY_TIMES = "Latency.measured", "how many times its latency was measured", 0.0, 1000.0, "", 1.0;
    LATENCY_SPREAD = "Latency.spread_us", "its latency's spread", 0.0, HOUR, "µs", MS;
    WARM_UP = "Receiver.warm_up_us", "its lamps' warm-up", 0.0, HOUR, "µs", MS;
    SHORTEST_GAP = "Receiver.gap_us", "its shortest gap", 0.0, HOUR, "µs", MS;
    BYTES_PER_SECOND = "Link.bytes-per-second", "its bytes a second", 1.0, 100_000_000.0, "bytes a second", 100.0;
    PRESET_FADE = "Preset.fade_us", "its fade", 0.0, HOUR, "µs", TENTH;
    LEVEL = "Preset.level", "its level", 0.0, 100.0, "%", 1.0;
    FRONT_LIGHT = "Preset.front_lx", "its light on the audience's side", 0.0, 1e6, "lx", 0.5;
    BACK_LIGHT = "Preset.back_lx", "its light on the fabric's back", 0.0, 1e6, "lx", 10.0;
    PRE_ROLL = "MediaItem.pre_roll_us", "its pre-roll", 0.0, HOUR, "µs", MS;
    PLAYS_FOR = "MediaItem.length_us", "its length", 0.0, HOUR, "µs", TENTH;
    SWITCH = "Output.switch_us", "its switch time", 0.0, HOUR, "µs", MS;
    RESYNC = "Output.resync_us", "its display's time to lock on", 0.0, HOUR, "µs", MS;
    LUMENS = "Projection.lumens", "its projector's light", 1.0, 1e6, "lm", 100.0;
    PICTURE_WIDTH = "Projection.width_m", "its picture's width", 0.01, 200.0, "m", 0.05;
    PICTURE_HEIGHT = "Projection.height_m", "its picture's height", 0.01, 200.0, "m", 0.05;
    GAIN = "Projection.gain", "its gain", 0.001, 20.0, "", 0.01;
    TRANSMISSION = "Projection.transmission", "the share of light that goes through it", 0.0, 1.0, "", 0.005;
    OBLIQUE = "Projection.oblique_deg", "its oblique angle", 0.0, 85.0, "°", 0.1;
    NATIVE_CONTRAST = "Projection.native_contrast", "its projector's own contrast", 1.0, 1e9, ":1", 10.0;
    AMBIENT = "Projection.ambient_lux", "the other light on it", 0.0, 1e6, "lx", 0.5;
    TARGET = "Projection.target_cd_m2", "its target brightness", 0.01, 1e6, "cd/m²", 1.0;
    HANG_WIDTH = "Hang.width_m", "its width", 0.01, 200.0, "m", 0.05;
    DROP = "Hang.drop_m", "its drop", 0.01, 100.0, "m", 0.05;
    TOP = "Hang.top_m", "the height of its top", 0.01, 100.0, "m", 0.05;
    AREAL_MASS = "Hang.areal_mass_kg_m2", "its mass for a square metre", 0.001, 50.0, "kg/m²", 0.005;
    HARDWARE = "Hang.hardware_kg", "its hardware", 0.0, 100_000.0, "kg", 0.5;
    SIGHTLINE = "Hang.sightline_m", "its sightline", 0.0, 100.0, "m", 0.05;
    BAR = "Hang.bar_m", "the length of its bar", 0.01, 200.0, "m", 0.05;
    UNIT_LEAST = "Release.unit_least_kg", "a unit's least load", 0.0, 100_000.0, "kg", 0.5;
    UNIT_MOST = "Release.unit_most_kg", "a unit's greatest load", 0.0, 100_000.0, "kg", 0.5;
    EYELETS = "Hang.eyelets", "its number of eyelets", 0.0, 10_000.0, "", 1.0;
    MEASURED_DROP = "MeasuredDrop.seconds", "a measured drop", 0.01, 60.0, "s", 0.01;
    UNITS = "Release.units", "its number of units", 0.0, 1000.0, "units", 1.0;
    UNIT_AT = "Release.units_at_m", "the place of a unit", 0.0, 200.0, "m", 0.05;
    PULSE = "Release.pulse_us", "its pulse", 0.0, HOUR, "µs", MS;
    ARM_BEFORE = "Release.arm_before_us", "its arming time before land", 0.0, HOUR, "µs", TENTH;
    ARM_AFTER = "Release.arm_after_us", "its arming time after land", 0.0, HOUR, "µs", TENTH;
    HANG_UP_WAIT = "HangUp.wait_us", "the wait before another try", 0.0, DAY, "µs", TENTH;
    SUPPLY_V = "Circuit.supply_v", "its supply voltage", 0.1, 1000.0, "V", 0.5;
    SUPPLY_LOW_V = "Circuit.supply_low_v", "its lowest supply voltage", 0.1, 1000.0, "V", 0.5;
    SUPPLY_W = "Circuit.supply_w", "its supply's power", 0.1, 100_000.0, "W", 1.0;
    UNIT_W = "Circuit.unit_w", "a unit's power", 0.01, 10_000.0, "W", 0.5;
    UNIT_V = "Circuit.unit_v", "its units' rated voltage", 0.1, 1000.0, "V", 0.5;
    PULL_IN_V = "Circuit.pull_in_v", "its pull-in voltage", 0.1, 1000.0, "V", 0.1;
    PULL_IN_C = "Circuit.pull_in_c", "the coil temperature of its pull-in rating", -40.0, 200.0, "°C", 1.0;
    BRANCH_A = "Circuit.branch_a", "its branch's rating", 0.1, 1000.0, "A", 0.5;
    BRANCH_V = "Circuit.branch_v", "its branch's voltage", 0.1, 1000.0, "V", 1.0;
    CABLE_C = "Circuit.cable_c", "its cable's temperature", -40.0, 120.0, "°C", 0.5;
    COIL_C = "Circuit.coil_c", "its coils' temperature", -40.0, 200.0, "°C", 0.5;
    FEED = "Wiring.feed_m", "a cable run", 0.0, 2000.0, "m", 0.1;
    LONGEST_RUN = "Wiring.longest_m", "a cable run", 0.0, 2000.0, "m", 0.1;
    UNIT_TO_UNIT = "Wiring.step_m", "a cable run", 0.0, 2000.0, "m", 0.1;
    BETWEEN_MINUTES = "BetweenTask.minutes", "its minutes", 0.0, 1440.0, "minutes", 1.0;
    BETWEEN_PEOPLE = "BetweenTask.people", "its people", 0.0, 1000.0, "", 1.0;
    ROOM_WIDTH = "Room.width_m", "its width", 0.5, 500.0, "m", 0.1;
    ROOM_HOUSE = "Room.house_m", "the depth of its house", 0.5, 500.0, "m", 0.1;
    CEILING = "Room.ceiling_m", "its ceiling", 0.5, 200.0, "m", 0.05;
    STAGE_WIDTH = "StageFloor.width_m", "its stage's width", 0.1, 500.0, "m", 0.1;
    STAGE_DEPTH = "StageFloor.depth_m", "its stage's depth", 0.1, 500.0, "m", 0.1;
    STAGE_HEIGHT = "StageFloor.height_m", "its stage's height", 0.0, 20.0, "m", 0.05;
    SPOT_ACROSS = "Spot.across_m", "its place across", -500.0, 500.0, "m", 0.05;
    SPOT_DEEP = "Spot.deep_m", "its place in depth", -500.0, 500.0, "m", 0.05;
    SPOT_HIGH = "Spot.high_m", "its height", -50.0, 200.0, "m", 0.05;
    BAR_ACROSS = "Bar.across_m", "its place across", -500.0, 500.0, "m", 0.05;
    BAR_DEEP = "Bar.deep_m", "its place in depth", -500.0, 500.0, "m", 0.05;
    BAR_LENGTH = "Bar.length_m", "its length", 0.01, 200.0, "m", 0.05;
    BAR_MASS = "Bar.mass_kg", "its own mass", 0.0, 100_000.0, "kg", 0.5;
    TRIM = "Bar.trim_m", "its trim", 0.01, 200.0, "m", 0.05;
    OBSTACLE_WIDTH = "Obstacle.width_m", "its width", 0.01, 500.0, "m", 0.05;
    OBSTACLE_DEPTH = "Obstacle.depth_m", "its depth", 0.01, 500.0, "m", 0.05;
    OBSTACLE_HEIGHT = "Obstacle.height_m", "its height", 0.01, 500.0, "m", 0.05;
    KEEP = "Obstacle.keep_m", "the distance to keep from it", 0.0, 100.0, "m", 0.05;
    FABRIC_ACROSS = "FabricPlace.across_m", "its place across", -500.0, 500.0, "m", 0.05;
    FABRIC_DEEP = "FabricPlace.deep_m", "its place in depth", -500.0, 500.0, "m", 0.05;
    CLEARANCE = "FabricPlace.clearance_m", "its clearance", 0.0, 20.0, "m", 0.05;
    SCREEN_WIDTH = "ScreenPlace.width_m", "its picture's width", 0.01, 200.0, "m", 0.05;
    SCREEN_HEIGHT = "ScreenPlace.height_m", "its picture's height", 0.01, 200.0, "m", 0.05;
    THROW_LEAST = "Projector.throw_least", "its smallest throw ratio", 0.1, 50.0, "", 0.01;
    THROW_MOST = "Projector.throw_most", "its greatest throw ratio", 0.1, 50.0, "", 0.01;
    LENS_SHIFT = "Projector.shift_percent", "its lens shift", 0.0, 200.0, "%", 1.0;
    PIXELS = "Projector.pixels", "its pixels across", 0.0, 100_000.0, "", 1.0;
    ROWS = "SeatBlock.rows", "its rows", 1.0, 200.0, "", 1.0;
    SEATS_IN_ROW = "SeatBlock.seats", "its seats in a row", 1.0, 200.0, "", 1.0;
    BLOCK_ACROSS = "SeatBlock.across_m", "its place across", -500.0, 500.0, "m", 0.05;
    SEAT_TO_SEAT = "SeatBlock.seat_m", "the distance of its seats", 0.1, 5.0, "m", 0.01;
    FIRST_ROW = "SeatBlock.first_m", "the distance of its first row", -500.0, 500.0, "m", 0.1;
    ROW_TO_ROW = "SeatBlock.row_m", "the distance of its rows", 0.1, 10.0, "m", 0.05;
    ROW_RISE = "SeatBlock.rise_m", "the rise of its rows", -2.0, 5.0, "m", 0.01;
    BLOCK_FLOOR = "SeatBlock.floor_m", "its first row's floor", -50.0, 200.0, "m", 0.05;
    EYE = "SeatBlock.eye_m", "the height of an eye", 0.1, 3.0, "m", 0.05;
    PERFORMER_ACROSS = "Performer.across_m", "their place across", -500.0, 500.0, "m", 0.05;
    PERFORMER_DEEP = "Performer.deep_m", "their place in depth", -500.0, 500.0, "m", 0.05;
    HEAD = "Performer.head_m", "the height of a head", 0.1, 5.0, "m", 0.01;
    RAISED = "Performer.raised_m", "what they stand on", 0.0, 20.0, "m", 0.05;
    PERSON_WIDTH = "Performer.width_m", "their width", 0.05, 20.0, "m", 0.05;
    SOURCE = "BackLamp.source_m", "the width of its light", 0.0, 10.0, "m", 0.01;
    FREE_ACROSS = "FreeArea.across_m", "its place across", -500.0, 500.0, "m", 0.05;
    FREE_DEEP = "FreeArea.deep_m", "its place in depth", -500.0, 500.0, "m", 0.05;
    FREE_WIDTH = "FreeArea.width_m", "its width", 0.01, 500.0, "m", 0.05;
    FREE_DEPTH = "FreeArea.depth_m", "its depth", 0.01, 500.0, "m", 0.05;
    OFFER_LABOUR = "Offer.labour_cents", "its labour", 0.0, MONEY, "hundredths", 100.0;
    OFFER_TRANSPORT = "Offer.transport_cents", "its transport", 0.0, MONEY, "hundredths", 100.0;
    OFFER_DEPOSIT = "Offer.deposit_cents", "its deposit", 0.0, MONEY, "hundredths", 100.0;
    OFFER_CONTINGENCY = "Offer.contingency_percent", "its contingency", 0.0, 255.0, "%", 1.0;
    OFFER_DAYS = "Offer.days", "its days", 0.0, 10_000.0, "days", 1.0;
    OFFER_QUANTITY = "OfferLine.quantity", "a line's quantity", 0.0, 1_000_000.0, "", 1.0;
    OFFER_DAY = "OfferLine.day_cents", "a line's price for a day", 0.0, MONEY, "hundredths", 100.0;
    OFFER_WEEK = "OfferLine.week_cents", "a line's price for a week", 0.0, MONEY, "hundredths", 100.0;
    LEAVE_OUT = "OfferLine.leave_out", "how soon a line is left out", 0.0, 9.0, "", 1.0;
    QUANTITY = "KitItem.quantity", "its quantity", 0.0, 1_000_000.0, "", 1.0;
    DAYS = "KitItem.days", "its days", 0.0, 10_000.0, "days", 1.0;
    PRICE = "KitItem.cents", "its price", 0.0, MONEY, "hundredths", 100.0;
    BUDGET = "Budget.cents", "the budget", 0.0, MONEY, "hundredths", 100.0;
    CONTINGENCY = "Budget.contingency_percent", "what is kept back", 0.0, 255.0, "%", 1.0;
    NOTE_LENGTH = "Message.length_us", "its note's length", 0.0, HOUR, "µs", MS;
    SONG_BARS = "Song.bars", "its song's number of bars", 1.0, BARS, "bars", 1.0;
    ORIGIN = "GridPlan.origin_us", "the song time of bar 1", -DAY, DAY, "µs", MS;
    METRE_BAR = "MetreMark.bar", "the bar of a metre", 1.0, BARS, "bars", 1.0;
    PIN_BAR = "Pin.bar", "the bar of a pin", -BARS, BARS, "bars", 1.0;
    PIN_AT = "Pin.at_us", "the time of a pin", -DAY, DAY, "µs", MS;
    SECTION_BAR = "Section.bar", "the first bar of a section", -BARS, BARS, "bars", 1.0;
    SECTION_BARS = "Section.bars", "the length of a section", 1.0, BARS, "bars", 1.0;
    HEARD_BAR = "Heard.bar", "the bar of what is heard", -BARS, BARS, "bars", 1.0;
    HEARD_BEAT = "Heard.beat", "the beat of what is heard", 1.0, 64.0, "", 1.0;
    BEND_BAR = "BendMark.bar", "the bar of a bend", -BARS, BARS, "bars", 1.0;
    VAMP_BARS = "SongBend.bars", "the length of a vamp", 1.0, BARS, "bars", 1.0;
    CUT_TO = "SongBend.to", "the bar at which a song goes on after a cut", -BARS, BARS, "bars", 1.0;
    HANDOVER_OFFSET = "HandoverStep.offset_us", "the wait of a handover", -DAY, DAY, "µs", MS;
    CALL_STANDBY = "Call.standby_us", "its standby", 0.0, HOUR, "µs", TENTH;
    CUE_FADE = "Action.fade_us", "its fade", 0.0, HOUR, "µs", TENTH;
    LEAD_ADJUST = "Cue.lead_adjust_us", "what it is sent earlier by", -HOUR, HOUR, "µs", MS;
    TIMED_GO = "ShowCommand.time_us", "its fade time", 0.0, DAY - 1_000_000.0, "µs", TENTH;
}

impl Limit {
    /// Checks that a duration is within the limit.
    ///
    /// # Errors
    /// As [`Limit::check`].
    pub fn check_span(&self, span: SongSpan) -> Result<(), String> {
        self.check(span.micros() as f64)
    }
}
