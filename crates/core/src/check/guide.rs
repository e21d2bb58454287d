//! Is the guide recording there, and is it the one that the grid was made from?

use super::problem::{Code, Problem};
use crate::show::{Guide, Service};

/// What is wrong with a service's guide recording. `sum` is the file's SHA-256 in hexadecimal; `None` if there is no file.
pub(crate) fn guide(service: &Service, guide: &Guide, sum: Option<&str>) -> Option<Problem> {
    let (code, what, remedy) = match sum {
        None => (
            Code::GuideMissing,
            format!("the guide \"{}\" is not there", guide.path),
            "put it back beside the show, or take it out of the song",
        ),
        Some(sum) if !guide.sha256.is_empty() && !sum.eq_ignore_ascii_case(&guide.sha256) => (
            Code::GuideChanged,
            format!("the guide \"{}\" is not the recording that the grid was made from", guide.path),
            "bring that recording back, or find the grid of this one anew",
        ),
        Some(_) => return None,
    };
    let service = Some(service.name.clone());
    Some(Problem { code, service, cues: Vec::new(), what, remedy: remedy.to_owned() })
}
