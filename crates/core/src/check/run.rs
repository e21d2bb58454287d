//! All checks in their order.

use super::context::Checks;
use super::problem::{Problem, sorted};
use super::{
    bends, desk, fabric, lights, marks, messages, people, release, reveal, rig, room, services, staging, timing, words,
};
use crate::room::RoomFigures;
use crate::show::Show;

/// Everything wrong with one service, worst first, then by code and cue.
pub(crate) fn service_problems(mut checks: Checks<'_>) -> Vec<Problem> {
    timing::run(&mut checks);
    messages::run(&mut checks);
    staging::run(&mut checks);
    release::run(&mut checks);
    reveal::run(&mut checks);
    bends::run(&mut checks);
    lights::run(&mut checks);
    desk::after(&mut checks);
    words::like_a_call(&mut checks);
    marks::run(&mut checks);
    services::run(&mut checks);
    sorted(checks.found)
}

/// What is wrong with the rig and the kit, whichever service plays.
pub(crate) fn rig_problems(show: &Show, room: Option<&RoomFigures>) -> Vec<Problem> {
    let mut found = rig::run(show);
    found.extend(words::sheet(show));
    found.extend(fabric::run(show));
    found.extend(room::run(show, room));
    found.extend(people::run(show));
    found.extend(services::close(show));
    found.extend(desk::numbers(show));
    sorted(found)
}
