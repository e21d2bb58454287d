//! Colours and fonts of the two themes, all in one place. Each kind has an Okabe–Ito colour, and always a shape and a letter
//! beside it.

use egui::{Color32, FontData, FontDefinitions, FontFamily, FontId, Stroke, TextStyle};
use letfall_core::show::Kind;
use letfall_files::fonts::SystemFont;
use std::sync::Arc;

/// The themes: one for a dark booth, one for a bright office.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Theme {
    /// Light on near-black.
    #[default]
    Dark,
    /// Dark on white.
    Paper,
}

/// A theme's colours.
#[derive(Debug, Clone, Copy)]
pub struct Palette {
    /// The background of everything.
    pub ground: Color32,
    /// The background of panels.
    pub panel: Color32,
    /// The background of every other row.
    pub row: Color32,
    /// Thin lines.
    pub hair: Color32,
    /// Bar lines.
    pub line: Color32,
    /// Text.
    pub text: Color32,
    /// Less important text.
    pub quiet: Color32,
    /// Selected things.
    pub chosen: Color32,
    /// Text on selected things.
    pub on_chosen: Color32,
    /// The playhead.
    pub playhead: Color32,
    /// Failures and stops.
    pub alarm: Color32,
    /// The background of the stage picture. It is dark in both themes, like the hall.
    pub hall: Color32,
}

impl Theme {
    /// The colours.
    pub const fn palette(self) -> Palette {
        match self {
            Theme::Dark => Palette {
                ground: Color32::from_rgb(0x12, 0x14, 0x17),
                panel: Color32::from_rgb(0x1b, 0x1e, 0x23),
                row: Color32::from_rgb(0x17, 0x1a, 0x1e),
                hair: Color32::from_rgb(0x2c, 0x31, 0x38),
                line: Color32::from_rgb(0x4a, 0x52, 0x5c),
                text: Color32::from_rgb(0xf2, 0xf3, 0xf0),
                quiet: Color32::from_rgb(0xb4, 0xbb, 0xc2),
                chosen: Color32::from_rgb(0xf0, 0xe4, 0x42),
                on_chosen: Color32::BLACK,
                playhead: Color32::from_rgb(0xff, 0xff, 0xff),
                alarm: Color32::from_rgb(0xff, 0x8a, 0x5c),
                hall: Color32::from_rgb(0x05, 0x06, 0x08),
            },
            Theme::Paper => Palette {
                ground: Color32::from_rgb(0xff, 0xff, 0xff),
                panel: Color32::from_rgb(0xf1, 0xf1, 0xee),
                row: Color32::from_rgb(0xf8, 0xf8, 0xf6),
                hair: Color32::from_rgb(0xd9, 0xda, 0xd6),
                line: Color32::from_rgb(0x9a, 0x9d, 0x99),
                text: Color32::from_rgb(0x14, 0x16, 0x18),
                quiet: Color32::from_rgb(0x4c, 0x51, 0x55),
                chosen: Color32::from_rgb(0x14, 0x16, 0x18),
                on_chosen: Color32::WHITE,
                playhead: Color32::from_rgb(0x00, 0x00, 0x00),
                alarm: Color32::from_rgb(0xa6, 0x38, 0x00),
                hall: Color32::from_rgb(0x20, 0x23, 0x27),
            },
        }
    }

    /// The colour of a kind. It is a fill, and never the only sign of the kind.
    pub const fn kind(self, kind: Kind) -> Color32 {
        match kind {
            Kind::Media => Color32::from_rgb(0x00, 0x9e, 0x73),
            Kind::Lighting => Color32::from_rgb(0xe6, 0x9f, 0x00),
            Kind::Output => Color32::from_rgb(0x56, 0xb4, 0xe9),
            Kind::Release => Color32::from_rgb(0xd5, 0x5e, 0x00),
        }
    }

    /// Text on the alarm colour.
    pub const fn on_alarm(self) -> Color32 {
        match self {
            Theme::Dark => Color32::BLACK,
            Theme::Paper => Color32::WHITE,
        }
    }

    /// Text on the colour of a kind.
    pub const fn on_kind(self, _: Kind) -> Color32 {
        Color32::BLACK
    }

    /// Applies fonts and colours.
    pub fn apply(self, ctx: &egui::Context) {
        let p = self.palette();
        let mut visuals = if self == Theme::Dark { egui::Visuals::dark() } else { egui::Visuals::light() };
        visuals.panel_fill = p.panel;
        visuals.window_fill = p.panel;
        visuals.extreme_bg_color = p.ground;
        visuals.faint_bg_color = p.row;
        visuals.override_text_color = None;
        visuals.selection.bg_fill = p.chosen;
        visuals.selection.stroke = Stroke::new(1.0, p.on_chosen);
        visuals.hyperlink_color = p.text;
        visuals.warn_fg_color = p.alarm;
        visuals.error_fg_color = p.alarm;
        // A blinking cursor would ask for frames while nothing happens.
        visuals.text_cursor.blink = false;
        visuals.window_stroke = Stroke::new(1.0, p.line);
        let radius = egui::CornerRadius::same(3);
        for (widget, fill) in [
            (&mut visuals.widgets.noninteractive, p.panel),
            (&mut visuals.widgets.inactive, p.hair),
            (&mut visuals.widgets.hovered, p.line),
            (&mut visuals.widgets.active, p.line),
            (&mut visuals.widgets.open, p.hair),
        ] {
            widget.bg_fill = fill;
            widget.weak_bg_fill = fill;
            widget.fg_stroke = Stroke::new(1.0, p.text);
            widget.bg_stroke = Stroke::new(1.0, p.hair);
            widget.corner_radius = radius;
            widget.expansion = 0.0;
        }
        visuals.widgets.hovered.bg_stroke = Stroke::new(1.5, p.text);
        visuals.widgets.active.bg_stroke = Stroke::new(1.5, p.text);
        let theme = if self == Theme::Dark { egui::Theme::Dark } else { egui::Theme::Light };
        ctx.set_theme(theme);
        ctx.set_visuals_of(theme, visuals);
        ctx.all_styles_mut(|style| {
            style.text_styles = [
                (TextStyle::Small, FontId::new(13.0, FontFamily::Proportional)),
                (TextStyle::Body, FontId::new(14.5, FontFamily::Proportional)),
                (TextStyle::Button, FontId::new(14.5, FontFamily::Proportional)),
                (TextStyle::Heading, FontId::new(19.0, bold())),
                (TextStyle::Monospace, FontId::new(14.0, FontFamily::Monospace)),
            ]
            .into();
            style.spacing.item_spacing = egui::vec2(8.0, 6.0);
            style.spacing.button_padding = egui::vec2(9.0, 4.0);
            style.spacing.interact_size.y = 26.0;
            style.animation_time = 0.0;
        });
    }
}

/// The font family for bold text.
pub fn bold() -> FontFamily {
    FontFamily::Name("bold".into())
}

/// Our own fonts, followed by system fonts for scripts that they lack.
pub fn fonts_with(more: &[SystemFont]) -> FontDefinitions {
    let mut fonts = fonts();
    for (at, font) in more.iter().enumerate() {
        let name = format!("system {at} {}", font.family);
        let mut data = FontData::from_owned(font.data.to_vec());
        data.index = font.index;
        fonts.font_data.insert(name.clone(), Arc::new(data));
        fonts.families.values_mut().for_each(|list| list.push(name.clone()));
    }
    fonts
}

/// Our own fonts: the same family on screen and on paper.
pub fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::empty();
    let mut add = |name: &str, bytes: &'static [u8]| {
        fonts.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    };
    add("next", include_bytes!("../../../../assets/fonts/AtkinsonHyperlegibleNext_400Regular.ttf"));
    add("next-bold", include_bytes!("../../../../assets/fonts/AtkinsonHyperlegibleNext_700Bold.ttf"));
    add("mono", include_bytes!("../../../../assets/fonts/AtkinsonHyperlegibleMono_600SemiBold.ttf"));
    let list = |names: &[&str]| names.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
    fonts.families.insert(FontFamily::Proportional, list(&["next", "mono"]));
    fonts.families.insert(FontFamily::Monospace, list(&["mono", "next"]));
    fonts.families.insert(bold(), list(&["next-bold", "next"]));
    fonts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// WCAG 2.2 relative luminance.
    fn luminance(colour: Color32) -> f64 {
        let part = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { libm::pow((c + 0.055) / 1.055, 2.4) }
        };
        0.2126 * part(colour.r()) + 0.7152 * part(colour.g()) + 0.0722 * part(colour.b())
    }

    fn contrast(a: Color32, b: Color32) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// check-values 12: published contrast pairs.
    #[test]
    fn the_measure_itself() {
        let grey = |n| Color32::from_rgb(n, n, n);
        assert!((contrast(grey(0x76), Color32::WHITE) - 4.542_225).abs() < 1e-6);
        assert!((contrast(grey(0x77), Color32::WHITE) - 4.478_089).abs() < 1e-6);
        assert!((contrast(Color32::from_rgb(0xe6, 0x9f, 0), Color32::BLACK) - 9.3239).abs() < 1e-4);
    }

    /// WCAG 2.2, 1.4.3: text has a contrast of at least 4.5:1 with its background.
    #[test]
    fn all_text_is_legible() {
        for theme in [Theme::Dark, Theme::Paper] {
            let p = theme.palette();
            for ground in [p.ground, p.panel, p.row, p.hair] {
                assert!(contrast(p.text, ground) >= 7.0, "{theme:?} text on {ground:?}");
                assert!(contrast(p.quiet, ground) >= 4.5, "{theme:?} quiet on {ground:?}");
                assert!(contrast(p.alarm, ground) >= 4.5, "{theme:?} alarm on {ground:?}");
            }
            assert!(contrast(p.text, p.line) >= 4.5, "{theme:?} text on a hovered button");
            assert!(contrast(p.on_chosen, p.chosen) >= 7.0);
            for kind in Kind::ALL {
                assert!(contrast(theme.on_kind(kind), theme.kind(kind)) >= 4.5, "{kind}");
            }
        }
    }

    /// WCAG 2.2, 1.4.11: what must stand out from its background has a contrast of at least 3:1; on paper an outline provides
    /// it.
    #[test]
    fn kinds_stand_out_in_the_dark() {
        for kind in Kind::ALL {
            assert!(contrast(Theme::Dark.kind(kind), Theme::Dark.palette().ground) >= 3.0, "{kind}");
        }
    }
}
