//! What the checks do not look at, so that nobody takes “no problems” for more than it is.

use crate::show::Show;

/// What was not checked of a show, as parts of a sentence.
pub fn not_checked(show: &Show) -> Vec<String> {
    let mut list = vec![
        "whether what is sent arrives and does what it should".to_owned(),
        "whether films and presets are on their devices under these numbers".to_owned(),
    ];
    if !show.releases.is_empty() {
        list.push("whether the rig holds, the zone is clear and the fabric falls: people look, and the competent person decides".to_owned());
        list.push("fire codes, permits and the electrician's work: local rules decide".to_owned());
    }
    if show.settings.seat_m <= 0.0 {
        list.push("how late sound is in the seats: no reference seat is given".to_owned());
    }
    if show.releases.iter().any(|release| release.circuit.is_none()) {
        list.push("the circuits of releases without electrical facts".to_owned());
    }
    if show.outputs.iter().any(|output| output.projection.is_none()) {
        list.push("the brightness of outputs without projector figures".to_owned());
    }
    if show.services.len() > 1 {
        list.push("how long before and after its song a service needs the hall".to_owned());
    }
    if show.services.iter().any(|service| service.date.trim().is_empty() || service.starts.is_none()) {
        list.push("the time between services that have no day or no start".to_owned());
    }
    list
}
