//! Media, outputs and routes, with the calculated brightness of the picture.

use super::message;
use super::rows::{add, empty, fill_down, named, next, take_out, usual_receiver};
use crate::widgets::fields::{Fields, free_key, heading, heads};
use egui::{Grid, Ui};
use letfall_core::limits;
use letfall_core::reveal::{FOOT_CANDLE, FOOT_LAMBERT, impossible_gain, light_figures, lumens_for};
use letfall_core::show::{
    Carries, Kind, LayerKey, MediaItem, Output, OutputKey, Projection, Route, RouteKey, Show, Surface, Units, Viewing,
};
use letfall_core::time::SongSpan;

/// Pictures and films.
pub fn media(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Media");
    empty(ui, show.media.is_empty(), "Pictures and films on a media receiver, each with the message that starts it.");
    let receivers = named!(show.receivers);
    let (all, mut gone, mut filled) = (show.receivers.clone(), None, None);
    Grid::new("media").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !show.media.is_empty() {
            heads(ui, &["Name", "Desk", "Receiver", "Layer", "Pre-roll", "Plays for", "", "Message", ""]);
        }
        for (at, item) in show.media.iter_mut().enumerate() {
            let whose = item.name.clone();
            let name = |part: &str| format!("{part} of {whose}");
            fields.text(ui, &mut item.name, 200.0, "Media name");
            fields.text(ui, &mut item.desk, 52.0, &name("Desk number"));
            fields.choice(ui, &mut item.receiver, &receivers, 110.0, &name("Receiver"));
            fields.parsed(ui, &mut item.layer, 60.0, "a", &name("Layer"));
            fields.span(ui, &mut item.pre_roll, &limits::PRE_ROLL, &name("Pre-roll"));
            fields.seconds(ui, &mut item.length, &limits::PLAYS_FOR, &name("Plays for"));
            if fill_down(
                ui,
                fields,
                &whose,
                "Gives everything below this receiver, layer and pre-roll, and the message numbers that follow.",
            ) {
                filled = Some(at);
            }
            let receiver = all.iter().find(|r| r.key == item.receiver);
            message::message(ui, fields, &mut item.message, receiver, &whose);
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    if let Some(from) = filled {
        for at in from + 1..show.media.len() {
            let above = show.media[at - 1].clone();
            let item = &mut show.media[at];
            (item.receiver, item.layer, item.pre_roll) = (above.receiver, above.layer, above.pre_roll);
            item.message = next(&above.message);
        }
    }
    take_out(&mut show.media, gone);
    for _ in 0..add(ui, fields, "Add a picture or film") {
        let Some(key) = free_key("media", show.media.iter().map(|m| m.key.as_str())) else { return };
        let last = show.media.last();
        let receiver = usual_receiver(show, Kind::Media);
        let layer = last.map(|m| m.layer.clone()).or_else(|| "a".parse().ok());
        let (Some(receiver), Some(layer)) = (receiver, layer) else { return };
        show.media.push(MediaItem {
            key,
            name: format!("Film {}", show.media.len() + 1),
            receiver,
            layer,
            desk: String::new(),
            message: last.map_or_else(|| message::note(36), |m| next(&m.message)),
            pre_roll: SongSpan::ZERO,
            length: SongSpan::ZERO,
        });
    }
    ui.label(
        "Pre-roll: black at the head that must have passed when the picture lands. Plays for 0: a still that stays.",
    );
}

/// Outputs and routes.
pub fn outputs(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Outputs");
    empty(ui, show.outputs.is_empty(), "Surfaces and screens that the audience sees.");
    let units = show.settings.units;
    let routes = show.routes.clone();
    let mut surfaces: Vec<(Surface, String)> = vec![(Surface::Screen {}, "a screen that stays".to_owned())];
    surfaces.extend(show.hangs.iter().map(|h| (Surface::Fabric(h.key.clone()), format!("the hang “{}”", h.name))));
    let mut gone = None;
    Grid::new("outputs").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !show.outputs.is_empty() {
            heads(
                ui,
                &["Name", "Falls on", "Starts with", "Switch time", "Display locks on in", "Projector figures", ""],
            );
        }
        for (at, output) in show.outputs.iter_mut().enumerate() {
            let whose = output.name.clone();
            let name = |part: &str| format!("{part} of {whose}");
            fields.text(ui, &mut output.name, 150.0, "Output name");
            fields.choice(ui, &mut output.surface, &surfaces, 180.0, &name("Surface"));
            let own: Vec<_> =
                routes.iter().filter(|r| r.output == output.key).map(|r| (r.key.clone(), r.name.clone())).collect();
            fields.choice(ui, &mut output.starts_with, &own, 150.0, &name("First route"));
            fields.span(ui, &mut output.switch, &limits::SWITCH, &name("Switch time"));
            fields.maybe_span(ui, &mut output.resync, &limits::RESYNC, &name("Time to lock on"));
            let mut known = output.projection.is_some();
            fields.tick(ui, &mut known, "known", &name("Projector figures"));
            if known && output.projection.is_none() {
                output.projection = Some(usual_projection());
            } else if !known {
                output.projection = None;
            }
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.outputs, gone);
    if fields.add(ui, "Add an output")
        && let Some(key) = free_key::<OutputKey>("output", show.outputs.iter().map(|o| o.key.as_str()))
        && let Some(receiver) = usual_receiver(show, Kind::Output)
    {
        let name = format!("Output {}", show.outputs.len() + 1);
        let surface = Surface::Screen {};
        // It comes with its routes: the layer that media play on, and nothing.
        let layer = show.media.last().map(|item| item.layer.clone()).or_else(|| "pictures".parse().ok());
        let ways =
            layer.map(|layer| ("pictures", Carries::Layer(layer))).into_iter().chain([("blank", Carries::Blank {})]);
        let mut starts_with = None;
        for (words, carries) in ways {
            let Some(route) =
                free_key::<RouteKey>(&format!("{key}-{words}"), show.routes.iter().map(|r| r.key.as_str()))
            else {
                return;
            };
            let message = show.routes.last().map_or_else(|| message::note(48), |route| next(&route.message));
            let (output, receiver) = (key.clone(), receiver.clone());
            let desk = String::new();
            show.routes.push(Route {
                key: route.clone(),
                name: words.to_owned(),
                output,
                carries,
                receiver,
                desk,
                message,
            });
            starts_with = Some(route);
        }
        let Some(starts_with) = starts_with else { return };
        show.outputs.push(Output {
            key,
            name,
            surface,
            starts_with,
            switch: SongSpan::ZERO,
            resync: None,
            projection: None,
        });
    }
    if show.outputs.iter().any(|output| output.resync.is_none()) {
        ui.label("Where nobody has tried how long a display takes to lock on to another picture, 0.5 to 5 s are assumed. Enter 0 if it was tried and changes without a gap.");
    }
    projections(ui, show, fields, units);
    ui.add_space(14.0);
    self::routes(ui, show, fields);
}

fn usual_projection() -> Projection {
    Projection {
        lumens: 10_000.0,
        width_m: 8.0,
        height_m: 4.5,
        gain: 1.0,
        transmission: 0.0,
        oblique_deg: 0.0,
        straight_size: false,
        from_behind: false,
        native_contrast: 1000.0,
        ambient_lux: 0.0,
        viewing: Viewing::Passive,
        target_cd_m2: None,
    }
}

fn projections(ui: &mut Ui, show: &mut Show, fields: &mut Fields, units: Units) {
    if show.outputs.iter().all(|o| o.projection.is_none()) {
        return;
    }
    ui.add_space(14.0);
    heading(ui, "Brightness (planning estimate)");
    let viewing = [
        (Viewing::Passive, "passive viewing"),
        (Viewing::BasicDecisions, "basic decisions"),
        (Viewing::AnalyticalDecisions, "analytical decisions"),
        (Viewing::FullMotion, "full-motion video"),
    ];
    let viewing: Vec<_> = viewing.into_iter().map(|(v, w)| (v, format!("{w}, {:.0}:1", v.contrast()))).collect();
    Grid::new("projections").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        let head = [
            "Output",
            "Light",
            "Width",
            "Height",
            "Gain",
            "Goes through",
            "Oblique",
            "Size and side",
            "Own contrast",
            "Other light",
            "Wanted",
        ];
        heads(ui, &head);
        for output in &mut show.outputs {
            let whose = output.name.clone();
            let name = |part: &str| format!("{part} of {whose}");
            let Some(p) = &mut output.projection else { continue };
            ui.label(&whose);
            fields.number(ui, &mut p.lumens, &limits::LUMENS, &name("Projector light"));
            fields.length(ui, &mut p.width_m, units, &limits::PICTURE_WIDTH, &name("Picture width"));
            fields.length(ui, &mut p.height_m, units, &limits::PICTURE_HEIGHT, &name("Picture height"));
            fields.number(ui, &mut p.gain, &limits::GAIN, &name("Gain"));
            fields.number(ui, &mut p.transmission, &limits::TRANSMISSION, &name("Share that goes through"));
            fields.number(ui, &mut p.oblique_deg, &limits::OBLIQUE, &name("Oblique angle"));
            ui.horizontal(|ui| {
                fields.tick(ui, &mut p.straight_size, "size of a straight throw", &name("Size of a straight throw"));
                fields.tick(ui, &mut p.from_behind, "from behind", &name("Projected from behind"));
            });
            fields.number(ui, &mut p.native_contrast, &limits::NATIVE_CONTRAST, &name("Projector's own contrast"));
            fields.number(ui, &mut p.ambient_lux, &limits::AMBIENT, &name("Other light"));
            fields.choice(ui, &mut p.viewing, &viewing, 190.0, &name("Viewing category"));
            ui.end_row();
        }
    });
    ui.label("A size measured on the surface holds the slant already. Tick “size of a straight throw” if it was worked out from the throw ratio.");
    for output in &show.outputs {
        let Some(p) = &output.projection else { continue };
        if let Some(why) = impossible_gain(p) {
            ui.colored_label(ui.visuals().warn_fg_color, format!("{}: {why}", output.name));
        }
        if p.width_m <= 0.0 || p.height_m <= 0.0 {
            continue;
        }
        let f = light_figures(p);
        ui.label(format!(
            "{}: {:.0} lx ({:.1} fc) on the surface, white {:.0} cd/m² ({:.1} fL), contrast {:.0}:1 where {:.0}:1 is wanted (at most {:.0} lx of other light)",
            output.name,
            f.lux,
            f.lux / FOOT_CANDLE,
            f.cd_m2,
            f.cd_m2 / FOOT_LAMBERT,
            f.contrast,
            p.viewing.contrast(),
            f.most_ambient_lux
        ));
        let target = p.target_cd_m2.unwrap_or(48.0);
        ui.label(format!(
            "    for {target:.0} cd/m² it takes {:.0} lm; {:.0} lx go through and land close behind",
            lumens_for(p, target),
            f.behind_lux
        ));
    }
    ui.label("Cinema reference: 48 cd/m². Projector light can hurt eyes at short distance: follow the maker's hazard distance.");
}

fn routes(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Routes");
    empty(ui, show.routes.is_empty(), "What an output can be given, each with the message that selects it.");
    let (outputs, receivers) = (named!(show.outputs), named!(show.receivers));
    let mut layers: Vec<LayerKey> = show.media.iter().map(|m| m.layer.clone()).collect();
    layers.extend(show.routes.iter().filter_map(|r| match &r.carries {
        Carries::Layer(layer) => Some(layer.clone()),
        _ => None,
    }));
    layers.sort();
    layers.dedup();
    let mut carried: Vec<(Carries, String)> =
        vec![(Carries::Blank {}, "nothing: blank".to_owned()), (Carries::Still {}, "a still".to_owned())];
    carried.extend(layers.into_iter().map(|l| (Carries::Layer(l.clone()), format!("media layer {l}"))));
    let (all, mut gone) = (show.receivers.clone(), None);
    Grid::new("routes").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !show.routes.is_empty() {
            heads(ui, &["Name", "Desk", "For", "Carries", "Receiver", "Message", ""]);
        }
        for (at, route) in show.routes.iter_mut().enumerate() {
            let whose = route.name.clone();
            let name = |part: &str| format!("{part} of {whose}");
            fields.text(ui, &mut route.name, 160.0, "Route name");
            fields.text(ui, &mut route.desk, 52.0, &name("Desk number"));
            fields.choice(ui, &mut route.output, &outputs, 130.0, &name("Output"));
            fields.choice(ui, &mut route.carries, &carried, 130.0, &name("What it carries"));
            fields.choice(ui, &mut route.receiver, &receivers, 110.0, &name("Receiver"));
            let receiver = all.iter().find(|r| r.key == route.receiver);
            message::message(ui, fields, &mut route.message, receiver, &whose);
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.routes, gone);
    if fields.add(ui, "Add a route")
        && let Some(key) = free_key::<RouteKey>("route", show.routes.iter().map(|r| r.key.as_str()))
    {
        let last = show.routes.last();
        let receiver = usual_receiver(show, Kind::Output);
        let output = last.map(|r| r.output.clone()).or_else(|| show.outputs.first().map(|o| o.key.clone()));
        let (Some(receiver), Some(output)) = (receiver, output.or_else(|| "output".parse().ok())) else {
            return;
        };
        show.routes.push(Route {
            key: key.clone(),
            name: format!("Route {}", show.routes.len() + 1),
            output: output.clone(),
            carries: Carries::Blank {},
            receiver,
            desk: String::new(),
            message: last.map_or_else(|| message::note(48), |r| next(&r.message)),
        });
        // An output starts on its first route unless another is chosen.
        let routes = &show.routes;
        if let Some(output) = show.outputs.iter_mut().find(|o| o.key == output)
            && !routes.iter().any(|r| r.key == output.starts_with)
        {
            output.starts_with = key;
        }
    }
}
