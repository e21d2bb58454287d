//! What to print and how: sheet, paper, date, earlier version, template, fonts.

use letfall_core::filmed::FilmPage;
use letfall_core::performed::Performed;
use letfall_core::prepared::Prepared;
use letfall_core::show::Show;
use letfall_core::time::WallTime;
use std::sync::Arc;

/// Paper sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Size {
    /// ISO 216: 210 × 297 mm.
    #[default]
    A4,
    /// 8.5 × 11 in.
    Letter,
    /// ISO 216: 297 × 420 mm; for the wall sheet.
    A3,
    /// 11 × 17 in; for the wall sheet.
    Tabloid,
}

impl Size {
    pub(crate) const fn template_name(self) -> &'static str {
        match self {
            Size::A4 => "a4",
            Size::Letter => "us-letter",
            Size::A3 => "a3",
            Size::Tabloid => "us-tabloid",
        }
    }
}

/// Which pages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sheet {
    /// Everything that happens, in order of landing.
    #[default]
    Order,
    /// What the stage manager says, with a count-down to each release.
    Calls,
    /// For the media operator.
    Media,
    /// For the lighting operator.
    Lighting,
    /// A page for each release: cautions, steps, plan, signatures.
    Release,
    /// For the outputs operator.
    Outputs,
    /// The whole score as a picture on one landscape page.
    Wall,
    /// What is hired, owned and bought, and what it costs.
    Kit,
    /// What to check before the doors open.
    Checklist,
    /// Roles, headsets, places, the calls of the day.
    Crew,
    /// One page for whoever stands in, per role.
    StandIn,
    /// Every message by device, and a table to enter at each desk.
    Patch,
    /// What is done between two services.
    Between,
    /// Certificates, permits and inspections with their dates; open notes.
    Papers,
    /// Figures for the user's own risk assessment.
    Facts,
    /// How the show is stopped.
    ShowStop,
    /// A form for the report of the performance.
    Report,
    /// Taking it all down.
    Strike,
    /// Plan and section of the room to scale, what seats see, loads and questions.
    Room,
    /// What is known, and what must be asked of whom.
    Known,
    /// A form for a walk round the room.
    Survey,
    /// What a hire company is asked for.
    Request,
    /// Offers side by side.
    Offers,
    /// The days from load-in to return.
    Week,
    /// How to film a rehearsal to measure from.
    Filming,
    /// What a film of a rehearsal shows.
    Filmed,
    /// All of them as one file, with contents and bookmarks.
    All,
}

impl Sheet {
    /// Each sheet, in the order of the whole file, with its name on the page.
    pub const EACH: [(Sheet, &'static str); 26] = [
        (Sheet::Order, "Running order"),
        (Sheet::Calls, "Call sheet"),
        (Sheet::Release, "Release sheet"),
        (Sheet::Lighting, "Lighting sheet"),
        (Sheet::Media, "Media sheet"),
        (Sheet::Outputs, "Outputs sheet"),
        (Sheet::Wall, "Wall sheet"),
        (Sheet::Checklist, "Pre-show checklist"),
        (Sheet::Between, "Between services"),
        (Sheet::Crew, "Crew"),
        (Sheet::StandIn, "Stand-in pages"),
        (Sheet::Patch, "Patch"),
        (Sheet::ShowStop, "Show-stop card"),
        (Sheet::Report, "Report of the performance"),
        (Sheet::Strike, "Strike"),
        (Sheet::Papers, "Papers of the day"),
        (Sheet::Facts, "Facts for a risk assessment"),
        (Sheet::Kit, "Kit and cost"),
        (Sheet::Room, "Room"),
        (Sheet::Known, "What we know, what we must ask"),
        (Sheet::Survey, "Survey"),
        (Sheet::Request, "Request to a hire company"),
        (Sheet::Offers, "Offers"),
        (Sheet::Week, "Week"),
        (Sheet::Filming, "Filming guide"),
        (Sheet::Filmed, "What the film shows"),
    ];

    /// Each sheet, and then all of them as one file.
    pub fn all() -> impl Iterator<Item = Sheet> {
        Sheet::EACH.into_iter().map(|(sheet, _)| sheet).chain([Sheet::All])
    }

    /// Whether the show has anything for it. Pages about what nobody has planned are no use among all others; asked for alone they
    /// say so.
    pub fn is_planned(self, show: &Show) -> bool {
        match self {
            Sheet::Room | Sheet::Known | Sheet::Survey | Sheet::Request => show.room.is_some(),
            Sheet::Offers => !show.offers.is_empty(),
            Sheet::Week => !show.week.is_empty(),
            // They are for whoever films a rehearsal, and are asked for then.
            Sheet::Filming | Sheet::Filmed => false,
            _ => true,
        }
    }

    /// Its name on the page.
    pub fn name(self) -> &'static str {
        Sheet::EACH.into_iter().find(|(sheet, _)| *sheet == self).map_or("All sheets", |(_, name)| name)
    }
}

/// An earlier version of the show, to mark changes against.
#[derive(Debug, Clone)]
pub struct EarlierVersion {
    /// Its name: the version printed on its pages; empty if it had none.
    pub version: String,
    /// Its service of the same name; `None` if it had none.
    pub plan: Option<Arc<Prepared>>,
}

impl EarlierVersion {
    /// The service with this name in an earlier show.
    pub fn of(show: Arc<Show>, service: &str) -> EarlierVersion {
        let version = show.version.clone();
        let at = show.services.iter().position(|s| s.name == service);
        EarlierVersion { version, plan: at.and_then(|at| Prepared::hypothetical(show, at).ok()) }
    }
}

/// How to print.
#[derive(Debug, Clone, Default)]
pub struct PaperOptions {
    /// Paper.
    pub size: Size,
    /// Pages.
    pub sheet: Sheet,
    /// When the song starts today, if not as planned: the running order's wall clock is shifted by it.
    pub start: Option<WallTime>,
    /// The date of printing, as it should appear in the header; empty for none.
    pub printed: String,
    /// The previous version. Differences from it are marked.
    pub previous: Option<EarlierVersion>,
    /// What is known of a performance: the report is filled in with it.
    pub performed: Option<Arc<Performed>>,
    /// What a film of a rehearsal shows, for its sheet.
    pub filmed: Option<Arc<FilmPage>>,
    /// A template to use instead of the built-in one: its name (for messages) and its text.
    pub template: Option<(String, String)>,
    /// Font files for scripts that the built-in typeface lacks.
    pub fonts: Vec<Arc<Vec<u8>>>,
}
