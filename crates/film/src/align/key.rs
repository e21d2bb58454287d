//! Whether what is heard is in the guide's key. Drums alone lie as well in a version that is sung a tone lower.

use crate::peak;
use crate::sound::RATE;
use letfall_core::time::round;
use realfft::{RealFftPlanner, num_complex::Complex};

/// Samples that one set of notes is taken from: half a second, in which a semitone is told from the next above 100 Hz.
const FRAME: usize = 8192;
const LOWEST: f64 = 110.0;
const HIGHEST: f64 = 2000.0;
/// How many pieces of a run are compared.
const PIECES: usize = 60;
/// How much better another key must fit.
const BETTER: f32 = 1.05;
/// How well a key must fit to say anything.
const SAYS: f32 = 0.15;

/// By how many semitones the film is higher than the guide between two of its times, seconds; `song` says what of the song is heard at a
/// time. 0 if nothing speaks for another key.
pub fn higher(film: &[f32], guide: &[f32], (from, to): (f64, f64), song: impl Fn(f64) -> f64) -> i32 {
    let mut notes = Notes::new();
    let rate = f64::from(RATE);
    let step = (to - from) / PIECES as f64;
    let mut pairs = Vec::new();
    for piece in 0..PIECES {
        let at = from + (piece as f64 + 0.5) * step;
        let (in_film, in_guide) = ((at * rate) as usize, (song(at).max(0.0) * rate) as usize);
        let (Some(film), Some(guide)) = (notes.of(film, in_film), notes.of(guide, in_guide)) else { continue };
        pairs.push((film, guide));
    }
    // What sounds all the time, such as the pitch of drums, says nothing of the key: the chords that change do.
    let count = pairs.len() as f32;
    let mean = |of: fn(&(Chord, Chord)) -> &Chord| -> Chord {
        std::array::from_fn(|note| pairs.iter().map(|pair| of(pair)[note]).sum::<f32>() / count)
    };
    let (film_mean, guide_mean) = (mean(|p| &p.0), mean(|p| &p.1));
    let (mut fits, mut size) = ([0.0f32; 12], 0.0f32);
    for (film, guide) in &pairs {
        let film: Chord = std::array::from_fn(|n| film[n] - film_mean[n]);
        let guide: Chord = std::array::from_fn(|n| guide[n] - guide_mean[n]);
        for (higher, fit) in fits.iter_mut().enumerate() {
            *fit += (0..12).map(|note| film[(note + higher) % 12] * guide[note]).sum::<f32>();
        }
        let length = |chord: &Chord| libm::sqrtf(chord.iter().map(|n| n * n).sum());
        size += length(&film) * length(&guide);
    }
    let best = (0..12).max_by(|a, b| fits[*a].total_cmp(&fits[*b])).unwrap_or(0);
    if size <= 0.0 || fits[best] < SAYS * size || fits[best] < BETTER * fits[0] {
        return 0;
    }
    if best > 6 { best as i32 - 12 } else { best as i32 }
}

/// How strong each of the twelve notes is.
type Chord = [f32; 12];

/// Listens for the twelve notes, in whatever octave.
struct Notes {
    fft: std::sync::Arc<dyn realfft::RealToComplex<f32>>,
    frame: Vec<f32>,
    bins: Vec<Complex<f32>>,
}

impl Notes {
    fn new() -> Notes {
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(FRAME);
        let (frame, bins) = (fft.make_input_vec(), fft.make_output_vec());
        Notes { fft, frame, bins }
    }

    /// How strong each note is, with mean 0 and length 1. `None` where there is no sound, or no tone.
    fn of(&mut self, sound: &[f32], from: usize) -> Option<Chord> {
        let piece = sound.get(from..from + FRAME)?;
        for (n, (to, sample)) in self.frame.iter_mut().zip(piece).enumerate() {
            *to = sample * (0.5 - 0.5 * libm::cosf(std::f32::consts::TAU * n as f32 / FRAME as f32));
        }
        self.fft.process(&mut self.frame, &mut self.bins).ok()?;
        let hertz = |bin: usize| bin as f64 * f64::from(RATE) / FRAME as f64;
        let mut notes = [0.0f32; 12];
        for bin in 1..self.bins.len() - 1 {
            let size = |n: usize| self.bins[n].norm();
            let is_peak = size(bin) > size(bin - 1) && size(bin) >= size(bin + 1);
            if !is_peak || !(LOWEST..HIGHEST).contains(&hertz(bin)) {
                continue;
            }
            let (a, b, c) = (size(bin - 1), size(bin), size(bin + 1));
            let part = peak::part(f64::from(a), f64::from(b), f64::from(c));
            let place = hertz(bin) + part * f64::from(RATE) / FRAME as f64;
            let note = round::nearest(12.0 * libm::log2(place / 440.0));
            notes[note.rem_euclid(12) as usize] += libm::sqrtf(b);
        }
        let mean = notes.iter().sum::<f32>() / 12.0;
        for note in &mut notes {
            *note -= mean;
        }
        let length = libm::sqrtf(notes.iter().map(|n| n * n).sum());
        (length > 1e-6).then(|| notes.map(|note| note / length))
    }
}
