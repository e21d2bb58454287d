//! The thread of one machine port: what it hands over when, what it owes, and what it does when its port goes and comes back.

#![allow(clippy::unwrap_used, missing_docs)]

mod made_up;

use letfall_core::show::Link;
use letfall_live::machines::Connection;
use letfall_live::{Command, Mode, ShowPort, SyncPlan};
use made_up::{Desk, plan, show};

/// The number of the release's port in the show, and that of the other one.
fn ports(plan: &letfall_live::RunPlan) -> (u16, u16) {
    let own = plan.releases[0].port.0;
    (own, 1 - own)
}

/// Releases the fabric at its time, with somebody holding it.
fn released(desk: &mut Desk, plan: &letfall_live::RunPlan) {
    desk.give(Command::Mode(Mode::Perform));
    desk.start(plan.releases[0].send.micros() - 3_000_000, false);
    desk.run_to(desk.now + 3_000_000 + 1_000, Some((0, 0)));
    assert!(desk.sent().iter().any(|(.., bytes)| *bytes == [0x9f, 60, 127]), "the release did not leave");
}

/// Another port of the show is given the machine port of a contact that is closed. The message that opens the contact was not
/// judged for the devices of the other port, so it leaves at once, before anything else.
#[test]
fn a_closed_contact_is_opened_when_its_port_is_given_another() {
    let plan = plan(&show());
    let mut desk = Desk::new(&plan, SyncPlan::default());
    let (own, other) = ports(&plan);
    released(&mut desk, &plan);
    let ended =
        |desk: &Desk| desk.sent().iter().filter(|(_, port, bytes)| *port == own && *bytes == [0x8f, 60, 64]).count();
    assert_eq!(ended(&desk), 0);
    // A port that it serves already changes nothing.
    desk.connections[usize::from(own)].send(Connection::Serves(ShowPort(own))).unwrap();
    desk.turn_ports();
    assert_eq!(ended(&desk), 0);
    desk.connections[usize::from(own)].send(Connection::Serves(ShowPort(other))).unwrap();
    desk.turn_ports();
    assert_eq!(ended(&desk), 1);
}

/// A slow port of the show that joins makes the wire as slow as its own.
#[test]
fn a_slow_port_that_joins_slows_the_wire() {
    for joins in [false, true] {
        let mut show = show();
        let own = show.receiver(&show.releases[0].receiver).unwrap().port.clone();
        for port in &mut show.ports {
            port.link = if port.key == own { Link::BytesPerSecond(1_000_000) } else { Link::Din };
        }
        let plan = plan(&show);
        let mut desk = Desk::new(&plan, SyncPlan::default());
        let (own, other) = ports(&plan);
        if joins {
            desk.connections[usize::from(own)].send(Connection::Serves(ShowPort(other))).unwrap();
        }
        desk.stop_all();
        desk.run_to(desk.now + 100_000, None);
        let silence: Vec<i64> = desk.sent().iter().filter(|(_, port, _)| *port == own).map(|(at, ..)| *at).collect();
        assert!(silence.len() > 10, "{silence:?}");
        let least = silence.windows(2).map(|two| two[1] - two[0]).min().unwrap();
        // Each of these messages has three bytes.
        assert_eq!(least, if joins { 960 } else { 3 });
    }
}

/// A driver went on accepting messages for a device that was pulled out. What opens the contact may have been among them, so it is
/// sent again when the port is back, unless it had left long before.
#[test]
fn a_contact_that_was_opened_just_before_its_port_was_lost_is_opened_again() {
    for (lost_after, again) in [(400_000, 1), (999_000, 1), (1_001_000, 0)] {
        let plan = plan(&show());
        let mut desk = Desk::new(&plan, SyncPlan::default());
        let (own, _) = ports(&plan);
        released(&mut desk, &plan);
        let opened = |desk: &Desk| desk.sent().iter().filter(|(.., bytes)| *bytes == [0x8f, 60, 64]).count();
        let pulse = plan.releases[0].pulse.unwrap().micros();
        desk.run_to(desk.now + pulse, None);
        assert_eq!(opened(&desk), 1);
        let when = desk.sent().iter().find(|(.., bytes)| *bytes == [0x8f, 60, 64]).unwrap().0;
        desk.run_to(when + lost_after, None);
        desk.close(own);
        desk.run_to(desk.now + 500_000, None);
        assert_eq!(opened(&desk), 1, "the port is not there");
        desk.open(own);
        desk.run_to(desk.now + 10_000, None);
        assert_eq!(opened(&desk), 1 + again, "lost {lost_after} µs after");
    }
}
