//! The show file: round trips, old versions, and everything that can be wrong with bytes.

use super::plans;
use letfall_core::file::{self, FileError};
use letfall_core::show::Show;
use proptest::prelude::*;

const DEMOS: [(&str, &str); 3] = [
    ("lantern-night", include_str!("../../../../demo-shows/lantern-night.letfall")),
    ("first-opener", include_str!("../../../../demo-shows/first-opener.letfall")),
    ("three-houses", include_str!("../../../../demo-shows/three-houses.letfall")),
];
const FRESH: &str = include_str!("../../../../assets/new.letfall");
/// Frozen when format 1 was settled; must load in every later version.
const VERSION_1: &str = include_str!("../../../../tests/assets/shows/v1-everything.letfall");

fn same(show: &Show) {
    let bytes = file::write(show);
    assert_eq!(file::read(&bytes).as_ref(), Ok(show));
    assert_eq!(file::write(&file::read(&bytes).unwrap()), bytes, "writing is a fixed point");
}

#[test]
fn demo_shows_are_without_problems_and_written_as_we_write_them() {
    for (name, text) in DEMOS {
        let show = file::read(text.as_bytes()).unwrap();
        assert_eq!(plans::problems(&show), [], "{name}");
        assert_eq!(String::from_utf8(file::write(&show)).unwrap(), text, "{name}");
    }
    same(&file::read(FRESH.as_bytes()).unwrap());
}

#[test]
fn old_versions_load() {
    let show = file::read(VERSION_1.as_bytes()).unwrap();
    // No list in the show is empty, so that a later version cannot forget to read a field.
    let cues: usize = show.services.iter().map(|s| s.cues.len()).sum();
    let lists = [
        show.ports.len(),
        show.receivers.len(),
        show.presets.len(),
        show.media.len(),
        show.outputs.len(),
        show.routes.len(),
        show.hangs.len(),
        show.releases.len(),
        show.tracks.len(),
        show.kit.len(),
        show.services.len(),
        cues,
        show.services[0].handovers.len(),
        show.services[0].song.grid.pins.len(),
    ];
    assert!(lists.iter().all(|n| *n > 0), "{lists:?}");
    same(&show);
}

#[test]
fn stress_shows_survive_a_round_trip() {
    same(&letfall_core::stress::show(2000, 40).unwrap());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn save_and_load_is_the_identity(plan in plans::plan(), text in "\\PC{0,40}", nudge in -1_000_000i64..1_000_000) {
        let mut show = plans::one(r#"{"label":"L1","track":"l","at":"5|1","does":{"lighting":{"preset":"warm"}}}"#);
        show.services[0].song.grid = plan;
        show.title.clone_from(&text);
        let edit = letfall_core::edit::change(&show, "A", &["L1".parse().unwrap()], |cue| {
            cue.text.clone_from(&text);
            cue.at = letfall_core::show::Anchor::Grid {
                place: letfall_core::time::BarBeat { bar: 3, beat: 2, tick: 7 },
                nudge: letfall_core::time::SongSpan::from_micros(nudge),
            };
        }).unwrap();
        edit.apply(&mut show).unwrap();
        same(&show);
    }

    /// Any bytes give either a show or a reason, and the reason fits on one line.
    #[test]
    fn damaged_files_give_a_reason(at in 0usize..20_000, with in any::<u8>(), cut in any::<bool>()) {
        let mut bytes = DEMOS[0].1.as_bytes().to_vec();
        let at = at % bytes.len();
        if cut { bytes.truncate(at) } else { bytes[at] = with }
        if let Err(why) = file::read(&bytes) {
            prop_assert!(!why.to_string().contains('\n'));
        }
    }
}

fn why(text: &str) -> String {
    file::read(text.as_bytes()).unwrap_err().to_string()
}

#[test]
fn reasons_say_where_and_what() {
    let good = DEMOS[1].1;
    assert_eq!(file::read(b"{\"letfall\xff").unwrap_err(), FileError::NotUtf8 { at: 9 });
    assert!(why("").contains("line 1"));
    assert!(why(&good[..good.len() / 2]).contains("EOF"), "{}", why(&good[..good.len() / 2]));
    assert!(why("[1,2]").contains("line 1"));
    assert_eq!(file::read(b"{\"show\":{}}"), Err(FileError::NotAShow));
    assert_eq!(file::read(br#"{"letfall":2,"show":{"unheard":1}}"#), Err(FileError::Newer { found: 2 }));
    assert_eq!(file::read(br#"{"letfall":0,"show":{"title":"x"}}"#), Err(FileError::NotAShow));
    // A field of the wrong type, with its path.
    let wrong = good.replacen("\"bars\": 16", "\"bars\": \"many\"", 1);
    assert!(why(&wrong).contains("show.services[0].song.bars") && why(&wrong).contains("line "), "{}", why(&wrong));
    // A key twice.
    let twice = good.replacen("\"title\": \"First opener\",", "\"title\": \"a\", \"title\": \"b\",", 1);
    assert!(why(&twice).contains("duplicate field `title`"), "{}", why(&twice));
    // For a misspelt key, the reason lists the keys that exist.
    let odd = good.replacen("\"venue\"", "\"venu\"", 1);
    assert!(why(&odd).contains("unknown field `venu`") && why(&odd).contains("`venue`"), "{}", why(&odd));
    // Not a number, and one too large.
    assert!(why(&good.replacen("\"width_m\": 5.0", "\"width_m\": NaN", 1)).contains("line "));
    assert!(why(&good.replacen("\"width_m\": 5.0", "\"width_m\": 1e999", 1)).contains("out of range"));
    assert!(why(&good.replacen("\"width_m\": 5.0", "\"width_m\": -5.0", 1)).contains("hang \"sheet\""));
    // Nested far too deep.
    let deep = format!("{{\"letfall\":1,\"show\":{}", "[".repeat(100_000));
    assert!(why(&deep).starts_with("line 1"), "{}", why(&deep));
    // Duplicate labels, kinds that disagree, invalid positions.
    assert!(why(&good.replacen("\"label\": \"L2\"", "\"label\": \"L1\"", 1)).contains("two cues are labelled L1"));
    assert!(why(&good.replacen("\"label\": \"L2\"", "\"label\": \"M9\"", 1)).contains("cue M9"));
    assert!(
        why(&good.replacen("\"bar\": 9, \"beat\": 1", "\"bar\": 9, \"beat\": 65", 1)).contains("9 b65 is no place")
    );
    assert!(why(&good.replacen("{\"bar\": 9, \"beat\": 1}", "\"9-1\"", 1)).contains("33 b2"));
    assert!(why(&good.replacen("{\"bar\": 9, \"beat\": 1}", "{\"beat\": 1}", 1)).contains("missing field `bar`"));
    let both = good.replacen("{\"bar\": 9, \"beat\": 1}", "{\"bar\": 9, \"song_us\": 1}", 1);
    assert!(why(&both).contains("not on both"), "{}", why(&both));
    assert!(why(&good.replacen("\"bar\": 9, \"beat\": 1", "\"bar\": -2147483648, \"beat\": 1", 1)).contains("within"));
    // A byte order mark is not an error (RFC 8259, 8.1).
    assert!(file::read(format!("\u{feff}{good}").as_bytes()).is_ok());
}

#[test]
fn schema_names_every_part_of_the_show() {
    let schema: serde_json::Value = serde_json::from_str(&file::schema()).unwrap();
    let text = schema.to_string();
    for word in
        ["services", "receivers", "releases", "hangs", "kit", "areal_mass_kg_m2", "bpm-linear-in-beats", "starts_with"]
    {
        assert!(text.contains(word), "{word}");
    }
    assert_eq!(schema["properties"]["show"]["$ref"], "#/$defs/Show");
}

/// A number with more digits than a double holds is read as the nearest double, and written with the shortest digits that read
/// back as the same double (IEEE 754 round to nearest).
#[test]
fn long_numbers_read_back_as_themselves() {
    let text = DEMOS[0].1;
    let one = "\"seconds\": 1.04";
    assert!(text.contains(one), "the demo show has a measured drop to write over");
    for number in [
        "1.6666666666666666666666666666666666666666666666666606",
        "0.1000000000000000055511151231257827",
        "1.2999999999999998",
    ] {
        let show = file::read(text.replacen(one, &format!("\"seconds\": {number}"), 1).as_bytes()).unwrap();
        let nearest: f64 = number.parse().unwrap();
        assert!(
            show.hangs.iter().flat_map(|hang| &hang.measured).any(|d| d.seconds.to_bits() == nearest.to_bits()),
            "{number}"
        );
        same(&show);
    }
}
