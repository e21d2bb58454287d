//! How long each step of a command took, printed as the step ends and again in a summary.

use crate::shell::Done;
use std::time::{Duration, Instant};

/// The steps so far.
#[derive(Default)]
pub struct Phases(Vec<(String, Duration)>);

impl Phases {
    /// Runs a step and prints how long it took, whether it succeeded or not.
    pub fn step<T>(&mut self, words: &str, work: impl FnOnce() -> Done<T>) -> Done<T> {
        println!("== {words}");
        let begun = Instant::now();
        let done = work();
        let took = begun.elapsed();
        println!("== {words}: {}", clock(took));
        self.0.push((words.to_owned(), took));
        done
    }

    /// Prints a summary of all steps, with the time from the start of the command to the end of each.
    pub fn tell(&self) {
        let mut since = Duration::ZERO;
        println!("{:<44}{:>9}{:>12}", "step", "took", "done after");
        for (words, took) in &self.0 {
            since += *took;
            println!("{words:<44}{:>9}{:>12}", clock(*took), clock(since));
        }
    }
}

/// "2:05", minutes and seconds; "3.2 s" under a minute.
fn clock(time: Duration) -> String {
    let secs = time.as_secs();
    if secs < 60 { format!("{:.1} s", time.as_secs_f64()) } else { format!("{}:{:02}", secs / 60, secs % 60) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_told_as_people_say_them() {
        assert_eq!([3.21, 60.0, 125.4].map(|s| clock(Duration::from_secs_f64(s))), ["3.2 s", "1:00", "2:05"]);
    }
}
