//! Writes the bands of recordings as bytes, for `tests/beats/teach.py`: `bands OUT IN…`.

use letfall_sound::{Decoder, bars::Listener};
use std::{env, fs, path::Path};

#[allow(clippy::unwrap_used)] // a developer tool
fn main() {
    let mut args = env::args().skip(1);
    let out = args.next().unwrap();
    for path in args {
        let mut decoder = Decoder::open(Box::new(fs::File::open(&path).unwrap()), None).unwrap();
        let mut listener = Listener::new(decoder.facts().sample_rate);
        while let Some(block) = decoder.next_block() {
            listener.hear(block);
        }
        let bands = listener.end();
        let mut bytes = vec![bands.loud()];
        (0..bands.len()).for_each(|at| bytes.extend(bands.frame(at)));
        fs::write(Path::new(&out).join(Path::new(&path).with_extension("bands").file_name().unwrap()), bytes).unwrap();
    }
}
