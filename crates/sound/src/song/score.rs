//! A score in text form; see assets/song.

/// Why a score cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line} of the score: {why}")]
pub struct ScoreError {
    /// Which line, from 1.
    pub line: usize,
    /// What is wrong.
    pub why: String,
}

/// A tune with its chords and players, section by section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Score {
    /// The tonic as a MIDI note number.
    pub key: i32,
    sections: Vec<Part>,
}

/// One section of the score.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Part {
    name: String,
    /// The players.
    pub players: Vec<String>,
    /// The roots of the chords, in scale steps above the tonic.
    chords: Vec<i32>,
    tune: Vec<Vec<Token>>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Token {
    Note(i32),
    Hold,
    Rest,
}

/// A note of the tune, in eighths of its bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TuneNote {
    /// Where it begins.
    pub from: i64,
    /// Where it ends.
    pub to: i64,
    /// Semitones above the tonic.
    pub key: i32,
}

/// Semitones in this many steps of a major scale.
pub fn interval(steps: i32) -> i32 {
    let scale = [0, 2, 4, 5, 7, 9, 11];
    let step = usize::try_from(steps.rem_euclid(7)).unwrap_or(0);
    scale[step] + 12 * steps.div_euclid(7)
}

fn token(text: &str) -> Option<Token> {
    match text {
        "-" => return Some(Token::Hold),
        "." => return Some(Token::Rest),
        _ => {}
    }
    let marks = |mark: char| i32::try_from(text.matches(mark).count()).unwrap_or(0);
    let octave = 12 * (marks('\'') - marks(','));
    let step: i32 = text.trim_end_matches(['\'', ',']).parse().ok().filter(|n| (1..=7).contains(n))?;
    Some(Token::Note(interval(step - 1) + octave))
}

impl Score {
    /// Reads a score.
    ///
    /// # Errors
    /// [`ScoreError`], with the line number.
    pub fn read(text: &str) -> Result<Score, ScoreError> {
        let mut score = Score { key: 60, sections: Vec::new() };
        for (at, line) in text.lines().enumerate() {
            let fail = |why: String| ScoreError { line: at + 1, why };
            let line = line.split('#').next().unwrap_or_default().trim();
            let Some((word, rest)) = line.split_once(' ') else { continue };
            if word == "key" {
                let keys = ["C", "D", "E", "F", "G", "A", "B"];
                let step = keys.iter().position(|k| *k == rest.trim()).and_then(|s| i32::try_from(s).ok());
                score.key = 60 + interval(step.ok_or_else(|| fail(format!("\"{rest}\" is no key")))?);
                // Keep the key in a range that suits both brass and children's voices.
                score.key -= if score.key > 65 { 12 } else { 0 };
                continue;
            }
            if word == "section" {
                score.sections.push(Part { name: rest.trim().to_owned(), ..Part::default() });
                continue;
            }
            let part = score.sections.last_mut().ok_or_else(|| fail("a section must come first".to_owned()))?;
            match word {
                "players" => part.players = rest.split_whitespace().map(str::to_owned).collect(),
                "chords" => {
                    let names = ["I", "ii", "iii", "IV", "V", "vi"];
                    for name in rest.split_whitespace() {
                        let step = names.iter().position(|n| *n == name).and_then(|s| i32::try_from(s).ok());
                        part.chords.push(step.ok_or_else(|| fail(format!("\"{name}\" is no chord")))?);
                    }
                }
                "tune" => {
                    for bar in rest.split('|') {
                        let read =
                            bar.split_whitespace().map(|t| token(t).ok_or_else(|| fail(format!("\"{t}\" is no note"))));
                        part.tune.push(read.collect::<Result<_, _>>()?);
                    }
                }
                other => return Err(fail(format!("\"{other}\" is nothing a score says"))),
            }
        }
        Ok(score)
    }

    /// The section with this name.
    pub fn section(&self, name: &str) -> Option<&Part> {
        self.sections.iter().find(|s| s.name == name)
    }
}

impl Part {
    /// The root of a bar's chord, in scale steps above the tonic.
    pub fn chord(&self, bar: usize) -> i32 {
        if self.chords.is_empty() { 0 } else { self.chords[bar % self.chords.len()] }
    }

    /// The tune's notes in a bar of this many eighths.
    pub fn notes(&self, bar: usize, eighths: i64) -> Vec<TuneNote> {
        let mut notes: Vec<TuneNote> = Vec::new();
        if self.tune.is_empty() {
            return notes;
        }
        let tokens = &self.tune[bar % self.tune.len()];
        let mut on = false;
        for (at, token) in (0..eighths).zip(tokens.iter().copied().chain(std::iter::repeat(Token::Hold))) {
            match token {
                Token::Note(key) => {
                    notes.push(TuneNote { from: at, to: at + 1, key });
                    on = true;
                }
                Token::Rest => on = false,
                Token::Hold => {
                    if let Some(last) = notes.last_mut().filter(|_| on) {
                        last.to = at + 1;
                    }
                }
            }
        }
        notes
    }
}
