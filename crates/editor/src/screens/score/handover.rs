//! A release's handover, planned as one unit: which output the pictures leave, on which one they arrive, and each at which
//! moment of the fall. Planning creates or moves the two cues.

use crate::document::Document;
use crate::request::{Requests, Then};
use crate::widgets::fields::Fields;
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_core::edit;
use letfall_core::limits;
use letfall_core::show::{Action, Carries, Handover, HandoverStep, Instant, Label, OutputKey, Show, Surface};
use letfall_core::time::SongSpan;

/// The draft, the release it is for, and the revision of the show it was made from.
#[derive(Default)]
pub struct Planner {
    draft: Option<(u64, Label, Handover)>,
}

/// The default handover for a release: pictures leave its fabric (which goes blank) as the edge passes the sightline, and
/// arrive on the first other output.
fn usual(show: &Show, label: Label, action: &Action) -> Option<Handover> {
    let Action::Release { release, .. } = action else { return None };
    let hang = &show.release(release)?.hang;
    let from = show.outputs.iter().find(|o| o.surface == Surface::Fabric(hang.clone()))?;
    let to = show.outputs.iter().find(|o| o.key != from.key)?;
    let route = |output: &OutputKey, blank: bool| {
        let own = |r: &&letfall_core::show::Route| r.output == *output;
        show.routes.iter().filter(own).find(|r| (r.carries == Carries::Blank {}) == blank).map(|r| r.key.clone())
    };
    let step = |route| HandoverStep { after: Instant::Sightline, offset: SongSpan::ZERO, route };
    Some(Handover {
        release: label,
        from: from.key.clone(),
        to: to.key.clone(),
        leave: step(route(&from.key, true)?),
        arrive: step(route(&to.key, false)?),
        cues: Vec::new(),
    })
}

impl Planner {
    /// Shows the planner for a release cue.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, label: Label, requests: &mut Requests) {
        let Some(service) = document.current() else { return };
        let Some(cue) = service.cues.get(label) else { return };
        let kept = service.handovers.iter().find(|h| h.release == label);
        let now = (document.revision, label);
        if self.draft.as_ref().is_none_or(|(r, l, _)| (*r, *l) != now) {
            let draft = kept.cloned().or_else(|| usual(&document.show, label, &cue.does));
            self.draft = draft.map(|d| (now.0, now.1, d));
        }
        ui.separator();
        ui.label(RichText::new("Handover").font(FontId::new(15.5, bold())));
        let Some((_, _, draft)) = &mut self.draft else {
            ui.label("For a handover the rig needs an output that falls on this release's fabric, another output, and their routes.");
            return;
        };
        let show = &document.show;
        let mut fields = Fields::default();
        let outputs: Vec<_> = show.outputs.iter().map(|o| (o.key.clone(), o.name.clone())).collect();
        for (words, output, step) in
            [("Pictures leave", &mut draft.from, &mut draft.leave), ("and arrive on", &mut draft.to, &mut draft.arrive)]
        {
            ui.horizontal(|ui| {
                ui.label(words);
                fields.choice(ui, output, &outputs, 150.0, &format!("{words}: output"));
            });
            ui.horizontal(|ui| side(ui, &mut fields, show, output, step, words));
        }
        let name = service.name.clone();
        let words = if kept.is_some() { "Plan the handover again" } else { "Plan the handover" };
        if ui.button(words).clicked() {
            let plan = edit::plan_handover(&document.show, &name, draft);
            match plan {
                Ok((edit, [leaves, arrives])) => {
                    let then = Then::Say(format!("Planned: {leaves} leaves, {arrives} arrives"));
                    requests.commit_then(format!("Plan the handover of {label}"), Ok(edit), then);
                }
                Err(why) => requests.fail(why.to_string()),
            }
        } else if let Some(kept) = kept.filter(|k| !k.cues.is_empty()) {
            let cues: Vec<String> = kept.cues.iter().map(ToString::to_string).collect();
            ui.label(format!("Its cues: {}. They keep their place to the release's beat.", cues.join(" and ")));
        }
    }
}

/// One side of the handover: the delay, the moment it counts from, and the route.
fn side(ui: &mut Ui, fields: &mut Fields, show: &Show, output: &OutputKey, step: &mut HandoverStep, whose: &str) {
    fields.span(ui, &mut step.offset, &limits::HANDOVER_OFFSET, &format!("{whose}: how much later"));
    let moments = [
        (Instant::LetGo, "after let-go"),
        (Instant::Sightline, "after the sightline"),
        (Instant::Floor, "after the floor"),
    ];
    let moments: Vec<_> = moments.into_iter().map(|(m, w)| (m, w.to_owned())).collect();
    fields.choice(ui, &mut step.after, &moments, 112.0, &format!("{whose}: moment"));
    let own: Vec<_> =
        show.routes.iter().filter(|r| r.output == *output).map(|r| (r.key.clone(), r.name.clone())).collect();
    fields.choice(ui, &mut step.route, &own, 84.0, &format!("{whose}: route"));
}
