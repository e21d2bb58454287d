//! What the screen asks of the film.

use letfall_core::show::Label;
use letfall_core::time::BarBeat;
use letfall_film::measure::{Mark, Taken};
use letfall_film::picture::Regions;

/// What a person says is heard at a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByHand {
    /// This place of the song.
    pub place: BarBeat,
    /// The film plays so many times slower than it was filmed.
    pub slow: f64,
    /// It is a clap, a click or a drum, whose own beginning says it more exactly.
    pub sudden: bool,
}

/// A single request.
#[derive(Debug, Clone, PartialEq)]
pub enum FilmRequest {
    /// Show the picture at this time, seconds of the film's clock.
    Show(f64),
    /// Show the picture so many further, or back.
    Step(i32),
    /// What is heard at the picture that is shown.
    PlaceByHand(ByHand),
    /// Look for the place by the sound again.
    PlaceBySound,
    /// How the film was made: metres from the loudspeaker, seconds from the first row of a picture to its last.
    Filmed(Option<f64>, f64),
    /// In the picture that is shown the hands of somebody who claps meet; `false` takes that back.
    Clap(bool),
    /// What is seen where.
    Regions(Regions),
    /// Find out what is seen where, and propose it.
    Propose,
    /// A proposed region is right (by its number among those that are proposed), or it is not.
    Accept(usize, bool),
    /// Look for what changed.
    Measure,
    /// Stop what is going on.
    Stop,
    /// Mark a cue in a run, or take the mark back.
    Mark(usize, Label, Option<Mark>),
    /// A person has looked at a fall, picture by picture, and it is right; or not.
    Confirm(usize, Label, bool),
    /// Take what is shown into the show.
    Take(Taken),
    /// Show what was found as a sheet.
    Print,
    /// Put the film away.
    Close,
}
