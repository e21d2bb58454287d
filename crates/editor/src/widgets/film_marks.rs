//! What the Film screen and the score both draw of a film: its pictures as the graphics card has them, and the marks of cues.

use super::theme::Palette;
use egui::{ColorImage, Context, Painter, Pos2, Rect, Shape, Stroke, TextureHandle, TextureOptions, vec2};
use letfall_film::open::Picture;
use std::collections::BTreeMap;

/// The picture that is shown, and those of the strip that were drawn.
#[derive(Default)]
pub struct Textures {
    large: Option<(u64, TextureHandle)>,
    small: BTreeMap<usize, TextureHandle>,
}

impl Textures {
    /// The picture that is shown.
    pub fn large(&mut self, ctx: &Context, picture: &Picture) -> TextureHandle {
        let stamp = picture.at.to_bits();
        match &self.large {
            Some((of, texture)) if *of == stamp => texture.clone(),
            _ => {
                let texture = load(ctx, "film picture", picture);
                self.large = Some((stamp, texture.clone()));
                texture
            }
        }
    }

    /// A picture of the strip, by its number.
    pub fn small(&mut self, ctx: &Context, number: usize, picture: &Picture) -> TextureHandle {
        self.small.entry(number).or_insert_with(|| load(ctx, "film strip", picture)).clone()
    }
}

fn load(ctx: &Context, name: &str, picture: &Picture) -> TextureHandle {
    let image = ColorImage::from_rgb([picture.wide, picture.high], &picture.rgb);
    ctx.load_texture(name, image, TextureOptions::LINEAR)
}

/// Where a cue should be seen: an open square.
pub fn planned_mark(painter: &Painter, at: Pos2, p: &Palette) {
    let square = Rect::from_center_size(at, vec2(7.0, 7.0));
    painter.rect(square, 0.0, p.ground, Stroke::new(1.5, p.text), egui::StrokeKind::Middle);
}

/// Where a cue was seen: a filled triangle that stands on its time.
pub fn seen_mark(painter: &Painter, at: Pos2, p: &Palette) {
    let corners = vec![at + vec2(0.0, -6.0), at + vec2(5.0, 4.0), at + vec2(-5.0, 4.0)];
    painter.add(Shape::convex_polygon(corners, p.chosen, Stroke::new(1.0, p.ground)));
}
