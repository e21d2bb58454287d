//! System fonts for scripts that our own typefaces lack. They are looked up only when a show uses such characters: a show in
//! Latin letters looks and prints the same on every machine.

use fontdb::Database;
use letfall_core::show::Show;
use std::collections::BTreeSet;
use std::sync::Arc;
use ttf_parser::Face;

/// A font file, and which face in it to use.
#[derive(Clone)]
pub struct SystemFont {
    /// The name of the font family.
    pub family: String,
    /// The whole file.
    pub data: Arc<Vec<u8>>,
    /// The index of the face in the file.
    pub index: u32,
}

/// The typefaces we ship; between them they cover Latin letters, digits and symbols.
const HOUSE: [&[u8]; 2] = [
    include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleNext_400Regular.ttf"),
    include_bytes!("../../../assets/fonts/AtkinsonHyperlegibleMono_400Regular.ttf"),
];

/// Which of these characters our own typefaces lack.
pub fn lacking(characters: impl Iterator<Item = char>) -> BTreeSet<char> {
    let faces: Vec<Face<'_>> = HOUSE.iter().filter_map(|data| Face::parse(data, 0).ok()).collect();
    characters
        .filter(|c| !c.is_ascii() && !c.is_control() && !c.is_whitespace())
        .filter(|c| !faces.iter().any(|face| face.glyph_index(*c).is_some()))
        .collect()
}

/// The characters in a show that our own typefaces lack.
pub fn lacking_in(show: &Show) -> BTreeSet<char> {
    lacking(texts(show).filter(|t| !t.is_ascii()).flat_map(str::chars))
}

/// Every text in a show that people read.
fn texts(show: &Show) -> impl Iterator<Item = &str> {
    let heads = [&show.title, &show.venue, &show.version].into_iter();
    let rig = show.ports.iter().map(|p| &p.name).chain(show.receivers.iter().flat_map(|r| [&r.name, &r.answers]));
    let rig = rig.chain(show.presets.iter().map(|p| &p.name)).chain(show.media.iter().map(|m| &m.name));
    let rig = rig.chain(show.outputs.iter().map(|o| &o.name)).chain(show.routes.iter().map(|r| &r.name));
    let rig = rig.chain(show.hangs.iter().map(|h| &h.name)).chain(show.releases.iter().map(|r| &r.name));
    let rig = rig.chain(show.tracks.iter().map(|t| &t.name)).chain(show.kit.iter().flat_map(|k| [&k.name, &k.brings]));
    let safety = &show.safety;
    let sheet = [
        &safety.competent,
        &safety.drop_zone,
        &safety.clear_signal,
        &safety.arm_holder,
        &safety.caller,
        &safety.spotter,
        &safety.key_switch,
        &safety.abort_words,
        &safety.local_rule,
    ];
    let services = show.services.iter().flat_map(|s| {
        let sections = s.song.sections.iter().map(|s| &s.name);
        let cues = s.cues.iter().flat_map(|c| [&c.text, &c.note]);
        [&s.name, &s.song.title].into_iter().chain(sections).chain(cues)
    });
    heads.chain(rig).chain(sheet).chain(services).map(String::as_str)
}

/// System fonts that cover these characters, using few fonts, and the characters that no font has.
pub fn from_system(characters: &BTreeSet<char>) -> (Vec<SystemFont>, BTreeSet<char>) {
    if characters.is_empty() {
        return (Vec::new(), BTreeSet::new());
    }
    let mut database = Database::new();
    database.load_system_fonts();
    from_database(&database, characters)
}

fn from_database(database: &Database, characters: &BTreeSet<char>) -> (Vec<SystemFont>, BTreeSet<char>) {
    // Upright faces of normal weight, sorted by name so that the choice is the same every time.
    let mut faces: Vec<&fontdb::FaceInfo> = database
        .faces()
        .filter(|f| f.style == fontdb::Style::Normal && f.weight == fontdb::Weight::NORMAL && !f.families.is_empty())
        .collect();
    faces.sort_by(|a, b| (&a.families[0].0, &a.post_script_name).cmp(&(&b.families[0].0, &b.post_script_name)));
    let has: Vec<BTreeSet<char>> = faces
        .iter()
        .map(|face| {
            let read = |data: &[u8], index| {
                let face = Face::parse(data, index).ok()?;
                Some(characters.iter().copied().filter(|c| face.glyph_index(*c).is_some()).collect())
            };
            database.with_face_data(face.id, read).flatten().unwrap_or_default()
        })
        .collect();
    let (mut missing, mut found) = (characters.clone(), Vec::new());
    loop {
        // The face that covers most of the missing characters; if several do, the first by name.
        let counts = has.iter().map(|set| set.intersection(&missing).count()).enumerate();
        let Some((best, count)) = counts.max_by_key(|(at, count)| (*count, std::cmp::Reverse(*at))) else { break };
        if count == 0 {
            break;
        }
        missing.retain(|c| !has[best].contains(c));
        let face = faces[best];
        let file = database.with_face_data(face.id, |data, index| (data.to_vec(), index));
        if let Some((data, index)) = file {
            found.push(SystemFont { family: face.families[0].0.clone(), data: Arc::new(data), index });
        }
    }
    (found, missing)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn latin_letters_need_nothing() {
        assert!(lacking("Überraschung, café: “Łódź” – 24 °C × 2 m²".chars()).is_empty());
        assert_eq!(lacking("灯A".chars()), BTreeSet::from(['灯']));
    }

    #[test]
    fn as_few_fonts_as_will_do_are_taken_and_what_is_missing_is_told() {
        let mut database = Database::new();
        for data in HOUSE {
            database.load_font_data(data.to_vec());
        }
        let (fonts, missing) = from_database(&database, &BTreeSet::from(['A', 'é', '灯']));
        assert_eq!(fonts.len(), 1);
        assert_eq!(fonts[0].family, "Atkinson Hyperlegible Mono", "the first by name among equals");
        assert_eq!(missing, BTreeSet::from(['灯']));
    }
}
