//! Renders what is to be heard next: a recording from a given place on, looped, slowed and with clicks as asked, at the
//! device's rate.

use super::stretch::Stretch;

/// A recording that can be read from any position.
pub trait Sound: Send {
    /// Samples a second.
    fn sample_rate(&self) -> f64;
    /// How many samples there are.
    fn frames(&self) -> i64;
    /// Fills a buffer with samples from a position on, with silence where there are none.
    fn read(&mut self, from: i64, out: &mut [f32]);
}

/// A part of the song, in seconds of song time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
}

/// A click to be heard along with the recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Click {
    /// Seconds of song time.
    pub at: f64,
    /// Whether it begins a bar.
    pub accent: bool,
}

/// The song position at a sample, valid from there on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// The sample at the device's rate, counted from the start of playback.
    pub sample: f64,
    /// Seconds of song time.
    pub song: f64,
    /// Seconds of song time that pass per sample.
    pub per_sample: f64,
}

/// The song time at a sample, from the last mark at or before it.
pub fn place(marks: &[Mark], sample: f64) -> Option<f64> {
    let mark = marks.iter().rfind(|m| m.sample <= sample).or(marks.first())?;
    Some(mark.song + (sample - mark.sample) * mark.per_sample)
}

const CLICK_SECS: f64 = 0.030;

/// Renders the samples for a device, in order.
pub struct Renderer {
    sound: Box<dyn Sound>,
    rate: f64,
    out_rate: f64,
    speed: f64,
    looped: Option<Part>,
    clicks: Vec<Click>,
    stretch: Stretch,
    /// The recording's sample that comes next.
    at: f64,
    /// Rendered samples at the recording's rate that are not all taken yet, and the number of the first one.
    line: Vec<f32>,
    line_from: u64,
    taken: u64,
    sounding: Vec<(u64, bool)>,
    marks: Vec<Mark>,
}

impl Renderer {
    /// Starts at `from` seconds of song time, at `speed` (0.25 to 1) times the song's own. After the recording ends there is
    /// silence.
    pub fn new(
        sound: Box<dyn Sound>,
        out_rate: f64,
        from: f64,
        speed: f64,
        looped: Option<Part>,
        clicks: Vec<Click>,
    ) -> Renderer {
        let rate = sound.sample_rate();
        let speed = speed.clamp(0.25, 1.0);
        // Ignore loops shorter than a tenth of a second.
        let looped = looped.filter(|l| l.to - l.from >= 0.1);
        let mut renderer = Renderer {
            stretch: Stretch::new(rate),
            sound,
            rate,
            out_rate,
            speed,
            looped,
            clicks,
            at: from * rate,
            line: Vec::new(),
            line_from: 0,
            taken: 0,
            sounding: Vec::new(),
            marks: Vec::new(),
        };
        renderer.mark();
        renderer
    }

    /// The marks made since the last call.
    pub fn take_marks(&mut self) -> Vec<Mark> {
        std::mem::take(&mut self.marks)
    }

    fn mark(&mut self) {
        let made = self.line_from + self.line.len() as u64;
        self.marks.push(Mark {
            sample: made as f64 * self.out_rate / self.rate,
            song: self.at / self.rate,
            per_sample: self.speed / self.out_rate,
        });
    }

    /// Fills a buffer with the next samples.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the line
    pub fn fill(&mut self, out: &mut [f32]) {
        let step = self.rate / self.out_rate;
        for sample in out {
            let place = self.taken as f64 * step;
            let whole = place as u64;
            while whole + 3 >= self.line_from + self.line.len() as u64 {
                self.make();
            }
            let first = (whole - self.line_from) as usize;
            let part = (place - whole as f64) as f32;
            let at = |k: usize| self.line.get(k).copied().unwrap_or(0.0);
            let [before, a, b, after] = [at(first.saturating_sub(1)), at(first), at(first + 1), at(first + 2)];
            // Cubic interpolation through four samples (Hermite, Catmull-Rom), which is good enough for a guide.
            let (c1, c2) = (0.5 * (b - before), before - 2.5 * a + 2.0 * b - 0.5 * after);
            let c3 = 0.5 * (after - before) + 1.5 * (a - b);
            *sample = (((c3 * part + c2) * part + c1) * part + a).clamp(-1.0, 1.0);
            self.taken += 1;
            if first > 1 << 16 {
                self.line.drain(..first - 1);
                self.line_from += first as u64 - 1;
            }
        }
    }

    /// Renders some more samples, but never past the end of a loop.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the recording
    fn make(&mut self) {
        if let Some(part) = self.looped
            && self.at >= part.to * self.rate
        {
            self.at = part.from * self.rate;
            self.stretch.begin();
            self.mark();
        }
        let begin = self.line.len();
        let from = self.at;
        let sound = &mut self.sound;
        if self.speed < 1.0 {
            self.stretch.step_from(libm::round(from) as i64, &mut self.line, |at, out| sound.read(at, out));
        } else {
            self.line.resize(begin + self.stretch.step(), 0.0);
            sound.read(libm::round(from) as i64, &mut self.line[begin..]);
        }
        if let Some(part) = self.looped {
            let room = ((part.to * self.rate - from) / self.speed).ceil().max(1.0) as usize;
            self.line.truncate(begin + room);
        }
        let made = self.line.len() - begin;
        self.at = from + made as f64 * self.speed;
        self.click(begin, from);
    }

    /// Mixes clicks into the samples rendered from `begin` on, which start at the recording's sample `from`.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the line
    fn click(&mut self, begin: usize, from: f64) {
        let base = self.line_from + begin as u64;
        let (first, last) = (from / self.rate, self.at / self.rate);
        let next = self.clicks.partition_point(|c| c.at < first);
        for click in self.clicks[next..].iter().take_while(|c| c.at < last) {
            let off = ((click.at - first) * self.rate / self.speed) as u64;
            self.sounding.push((base + off, click.accent));
        }
        let length = (CLICK_SECS * self.rate) as u64;
        for (start, accent) in &self.sounding {
            let turn = std::f64::consts::TAU * if *accent { 1760.0 } else { 1175.0 } / self.rate;
            for (k, sample) in self.line[begin..].iter_mut().enumerate() {
                let into = (base + k as u64).wrapping_sub(*start);
                if into < length {
                    let fade = 1.0 - into as f64 / length as f64;
                    *sample = 0.7 * *sample + (0.5 * fade * libm::sin(turn * into as f64)) as f32;
                }
            }
        }
        let done = base + (self.line.len() - begin) as u64;
        self.sounding.retain(|(start, _)| start + length > done);
    }
}
