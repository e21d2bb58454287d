//! Pages of any show that the schema allows: nothing panics, and what cannot be printed says why.

#![allow(clippy::unwrap_used, missing_docs)]

// The same shows as the fuzz targets use.
#[path = "../../../tests/fuzz/src/plans.rs"]
#[allow(dead_code, clippy::all, clippy::pedantic, clippy::restriction)]
mod plans;

use letfall_paper::{EarlierVersion, PaperOptions, Sheet, Size, print};
use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_show_prints_or_says_why_not(bytes in prop::collection::vec(any::<u8>(), 1..60), size in 0usize..4, marked in any::<bool>()) {
        let Some(show) = plans::show(&bytes) else { return Ok(()) };
        let earlier = plans::show(&bytes[..1]).map(|first| first.show().clone());
        for plan in plans::services(&show).into_iter().take(1) {
            let previous = earlier.clone().filter(|_| marked).map(|e| EarlierVersion::of(e, &plan.service().name));
            let size = [Size::A4, Size::Letter, Size::A3, Size::Tabloid][size];
            match print(&plan, &PaperOptions { sheet: Sheet::All, size, previous, ..PaperOptions::default() }) {
                Ok(paper) => prop_assert!(paper.pages >= 9),
                Err(why) => prop_assert!(!why.to_string().is_empty()),
            }
        }
    }
}
