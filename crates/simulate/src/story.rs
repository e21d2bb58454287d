//! Describes a run in words that a stage manager can read.

use crate::happening::Happening;
use crate::scene::{End, MACHINE, Scene};
use crate::script::Bending;
use crate::witness::time;

/// Describes the scene and what happened in it.
pub fn tell(scene: &Scene, happenings: &[(i64, Happening)]) -> String {
    let mut text = String::new();
    let mut line = |words: String| {
        text.push_str(&words);
        text.push('\n');
    };
    line(format!("The safety sheet is {}.", if scene.safe { "filled in" } else { "open" }));
    for (port, machine) in scene.machine.iter().enumerate() {
        let sync = if scene.sync_tried[port] { ", timecode was tried there" } else { "" };
        line(format!("The show's port {port} leaves by \"{}\"{sync}.", MACHINE[*machine]));
    }
    for release in &scene.releases {
        let end = match &release.end {
            End::Bytes(bytes) => format!("ended by {bytes:02X?} after {}", time(release.pulse)),
            End::Timer => "ended by its own timer".to_owned(),
            End::Unstated => "nobody said what ends it".to_owned(),
        };
        line(format!(
            "{} is fired by {:02X?} on port {}, at song time {}, window {} to {}; {end}; {}; {}.",
            release.label,
            release.row,
            release.port,
            time(release.send),
            time(release.window.0),
            time(release.window.1),
            if release.held_by_power { "power holds it, or nobody said" } else { "power lets go" },
            if release.channel_tried { "its channel was tried" } else { "it may answer every channel" },
        ));
        line(format!("It is settled by {}.", time(release.decision)));
    }
    for cue in &scene.harmless {
        let depends = cue.depends.map_or_else(String::new, |of| format!(", depends on {}", scene.releases[of].label));
        line(format!("{} is {:02X?} on port {}, at {}{depends}.", cue.label, cue.bytes, cue.port, time(cue.send)));
    }
    let mut silenced = 0;
    for (at, happening) in happenings {
        // Silencing takes two messages for each of the 16 channels.
        if matches!(happening, Happening::Sent { bytes, .. } if matches!(bytes[..], [0xb0..=0xbf, 120 | 123, 0])) {
            silenced += 1;
            continue;
        }
        if silenced > 0 {
            line(format!("              ({silenced} messages of silence)"));
            silenced = 0;
        }
        line(format!("{:>12}  {}", time(*at), words(scene, happening)));
    }
    text
}

fn words(scene: &Scene, happening: &Happening) -> String {
    let label = |release: usize| scene.releases[release].label.clone();
    match happening {
        Happening::Start { song, chase, .. } => {
            let first = if *chase { ", what should hold there is sent first" } else { "" };
            format!("A person starts the run from {}{first}.", time(*song))
        }
        Happening::FollowStart { song, .. } => format!("The clock that leads starts at {}.", time(*song)),
        Happening::Follow { song, .. } => format!("The clock that leads is at {}.", time(*song)),
        Happening::Band { song, sure, .. } => {
            let place = song.map_or_else(|| "somewhere".to_owned(), |song| format!("at {}", time(song)));
            format!("The band is {place}{}.", if *sure { "" } else { ", but nobody is sure" })
        }
        Happening::BandEnds => "No band leads any more.".to_owned(),
        Happening::Bend(bending) => match *bending {
            Bending::Wait(at) => format!("A person lets time stand at {}.", time(at)),
            Bending::GoOn => "A person goes on.".to_owned(),
            Bending::Vamp(from, to) => format!("A person lets {} to {} go round.", time(from), time(to)),
            Bending::Leave => "A person leaves the vamp.".to_owned(),
            Bending::Cut(from, to) => format!("A person cuts from {} to {}.", time(from), time(to)),
            Bending::Stays(release) => format!("A person says that the fabric of {} stays.", label(release)),
            Bending::Stuck(release) => format!("A person says that {} is stuck.", label(release)),
            Bending::Down(release) => format!("A person says that {} is down.", label(release)),
            Bending::TryAt(release, shift) => {
                format!("A person asks for another try of {}, {} later than planned.", label(release), time(shift))
            }
            Bending::ByHand => "A person goes on by hand.".to_owned(),
            Bending::Next => "A person sends the next group.".to_owned(),
        },
        Happening::Stop => "The run is stopped.".to_owned(),
        Happening::StopAll => "STOP ALL.".to_owned(),
        Happening::Locate => "The playhead is set elsewhere.".to_owned(),
        Happening::Loop(Some((from, to))) => format!("{} to {} goes round.", time(*from), time(*to)),
        Happening::Loop(None) => "Nothing goes round.".to_owned(),
        Happening::Perform(true) => "It is a performance.".to_owned(),
        Happening::Perform(false) => "It is a rehearsal.".to_owned(),
        Happening::NewRun => "A new run.".to_owned(),
        Happening::SecondTry { release } => format!("A second try of {} is asked for.", label(*release)),
        Happening::Press { release, grip } => {
            format!("The release operator presses for {} (press {grip}).", label(*release))
        }
        Happening::Lift => "The release operator lets go.".to_owned(),
        Happening::Port { machine, there: false } => format!("\"{}\" is pulled out.", MACHINE[*machine]),
        Happening::Port { machine, there: true } => format!("\"{}\" is plugged in.", MACHINE[*machine]),
        Happening::Fault { machine } => format!("The driver of \"{}\" will fail.", MACHINE[*machine]),
        Happening::Blocked { machine, until } => {
            format!("The driver of \"{}\" blocks until {}.", MACHINE[*machine], time(*until))
        }
        Happening::Stalled { until } => format!("Sending stands still until {}.", time(*until)),
        Happening::ScreenStalled { until } => format!("The screen does not answer until {}.", time(*until)),
        Happening::Broke => "The sending thread breaks.".to_owned(),
        Happening::Slept => "The machine sleeps.".to_owned(),
        Happening::WallSet => "Somebody sets the clock of the machine.".to_owned(),
        Happening::Disturbed(words) => format!("{words}."),
        Happening::Assigned { port, machine } => format!("The show's port {port} is given \"{}\".", MACHINE[*machine]),
        Happening::Ended => "The run is ended.".to_owned(),
        Happening::Sent { machine, bytes } => format!("    \"{}\" is handed {bytes:02X?}", MACHINE[*machine]),
        Happening::Fired { release } => format!("    the device of {} may let go", label(*release)),
        Happening::ToldTheEnd => "The screen says that sending has ended.".to_owned(),
        Happening::Objection(words) => format!("*** {words}"),
    }
}
