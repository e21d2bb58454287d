//! The parts of the film's picture in which something of the show is seen.

use serde::{Deserialize, Serialize};

/// A rectangle of the picture, in shares of its width and height, from the top left corner.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Region {
    /// What it is, such as "left screen".
    pub name: String,
    /// Its left edge, 0 to 1.
    pub x: f64,
    /// Its top edge, 0 to 1.
    pub y: f64,
    /// Its width, 0 to 1.
    pub w: f64,
    /// Its height, 0 to 1.
    pub h: f64,
    /// What is seen in it: names of receivers, outputs and fabrics of the show.
    pub shows: Vec<String>,
    /// For a fabric: where the sightline is, as a share of the region's height from its top.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sightline: Option<f64>,
}

impl Region {
    /// The height of its middle in the picture, 0 at the top to 1: a camera that reads its rows one after the other sees it so much later
    /// than the first row.
    pub fn middle(&self) -> f64 {
        self.y + self.h / 2.0
    }
}

/// A file of regions.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Regions {
    /// All of them.
    pub regions: Vec<Region>,
}

/// What is wrong with a region.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("region \"{name}\": {why}")]
pub struct RegionError {
    name: String,
    why: &'static str,
}

/// The most regions of one film.
const MOST: usize = 24;
/// The least width and height: four points of the picture that is looked at.
const LEAST: f64 = 0.03;

impl Regions {
    /// Checks every region.
    ///
    /// # Errors
    /// [`RegionError`] names the first that cannot be used.
    pub fn validate(&self) -> Result<(), RegionError> {
        for (n, region) in self.regions.iter().enumerate() {
            let fail = |why| Err(RegionError { name: region.name.clone(), why });
            let Region { x, y, w, h, .. } = *region;
            let inside = |v: f64| (0.0..=1.0).contains(&v);
            if n >= MOST {
                return fail("there are more than 24 regions; leave out what no cue changes");
            }
            if ![x, y, w, h, x + w, y + h].iter().all(|v| inside(*v)) {
                return fail("x, y, w and h are shares of the picture, 0 to 1, and it must lie within the picture");
            }
            if w < LEAST || h < LEAST {
                return fail("it is too small; a region is at least 0.03 wide and high");
            }
            if region.shows.is_empty() {
                return fail(
                    "\"shows\" is empty: name the receivers, outputs or fabrics of the show that are seen in it",
                );
            }
            if region.sightline.is_some_and(|s| !inside(s)) {
                return fail("the sightline is a share of the region's height, 0 at its top to 1 at its bottom");
            }
            if self.regions[..n].iter().any(|other| other.name == region.name) {
                return fail("two regions have this name");
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn what_cannot_be_a_region_is_told() {
        let good = Region {
            name: "Fabric".into(),
            x: 0.1,
            y: 0.1,
            w: 0.5,
            h: 0.5,
            shows: vec!["Front fabric".into()],
            sightline: Some(0.8),
        };
        let told = |change: &dyn Fn(&mut Region)| {
            let mut bad = good.clone();
            change(&mut bad);
            Regions { regions: vec![bad] }.validate().map_err(|e| e.to_string())
        };
        assert_eq!(told(&|_| {}), Ok(()));
        for (x, y, w, h) in
            [(0.6, 0.1, 0.5, 0.5), (0.1, -0.1, 0.5, 0.5), (0.1, 0.1, 0.5, f64::NAN), (0.1, 0.1, 1.5, 0.5)]
        {
            let outside = told(&|r| (r.x, r.y, r.w, r.h) = (x, y, w, h));
            assert!(outside.unwrap_err().contains("must lie within the picture"));
        }
        assert!(told(&|r| r.w = 0.01).unwrap_err().contains("too small"));
        assert!(told(&|r| r.shows.clear()).unwrap_err().contains("\"shows\" is empty"));
        assert!(told(&|r| r.sightline = Some(1.5)).unwrap_err().contains("region \"Fabric\": the sightline"));
        let twice = Regions { regions: vec![good.clone(), good.clone()] };
        assert!(twice.validate().unwrap_err().to_string().contains("two regions have this name"));
        let named = |n: usize| Region { name: n.to_string(), ..good.clone() };
        assert!(Regions { regions: (0..24).map(named).collect() }.validate().is_ok());
        assert!(Regions { regions: (0..25).map(named).collect() }.validate().is_err());
    }
}
