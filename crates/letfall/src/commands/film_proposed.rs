//! Proposes what is seen where in a film, as a file of regions.

use super::film_placed::{Placed, of_film, placed};
use crate::cli;
use crate::output::Answer;
use crate::streams;
use letfall_core::prepared::Prepared;
use letfall_files::Failure;
use letfall_film::measure::sightings;
use letfall_film::picture::{Proposed, Region, Regions};
use letfall_film::study;
use std::path::Path;

pub fn run(args: &cli::Film, plan: &Prepared, to: &Path) -> Answer {
    let Placed { runs, begins, filming } = placed(args, plan, Some("--propose"))?;
    let sightings = sightings(plan, &runs, begins, &filming);
    let proposed = study::propose(&args.file, &sightings, &mut |_| true).map_err(|why| of_film(args, &why))?;
    if proposed.regions.is_empty() {
        return Err(Failure::Use(format!(
            "{}: nothing in it is seen to change when a cue of {} should be seen; write the file of regions by hand",
            args.file.display(),
            plan.service().name
        )));
    }
    let text = words(&proposed);
    let regions = Regions { regions: proposed.regions };
    let file = serde_json::to_string_pretty(&regions).unwrap_or_default() + "\n";
    streams::write(to, file.as_bytes())?;
    let text = format!("{text}Look at a picture of the film before you use it. Wrote {}\n", to.display());
    Ok(streams::told(to, text, Vec::new()))
}

fn words(proposed: &Proposed) -> String {
    let place = |region: &Region| {
        let [x, y, w, h] = [region.x, region.y, region.w, region.h].map(|share| share * 100.0);
        let shows = region.shows.join(", ");
        format!("  {shows}: from the left {x:.0} %, from the top {y:.0} %, {w:.0} % wide, {h:.0} % high\n")
    };
    let seen: String = proposed.regions.iter().map(place).collect();
    let unseen = match proposed.unseen.join(", ") {
        none if none.is_empty() => none,
        names => format!("Not seen to change: {names}\n"),
    };
    format!("Seen to change when its cues should be seen:\n{seen}{unseen}")
}
