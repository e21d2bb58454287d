//! Plan and section of the room as SVG, to scale: one metre of the room is 10 mm on the sheet, 1 : 100.

use letfall_core::room::drawing::{Drawing, Draws, Look, Shape, drawing};
use letfall_core::room::labels::place_labels;
use letfall_core::show::{Show, Units};
use svg::Document;
use svg::node::element::{Group, Line, Polygon, Rectangle, Text, Title};

/// Millimetres on the sheet for a metre of the room.
const MM_PER_M: f64 = 10.0;
/// Height of the words, millimetres.
const WORDS_MM: f64 = 3.6;

/// Writes a drawing of a show's room. `None` if the show has no room.
pub fn write(show: &Show, look: Look) -> Option<String> {
    let drawing = drawing(show, look)?;
    let name = match look {
        Look::Plan | Look::PlanTurned => "Plan",
        Look::Section => "Section along the middle",
    };
    Some(document(show, &drawing, name).to_string())
}

/// A length on the sheet to a hundredth of a millimetre, so that the same room gives the same file.
fn mm(metres: f64) -> f64 {
    let hundredths = libm::round(metres * MM_PER_M * 100.0);
    // No "-0".
    if hundredths == 0.0 { 0.0 } else { hundredths / 100.0 }
}

fn document(show: &Show, drawing: &Drawing, name: &str) -> Document {
    let [left, top, right, bottom] = drawing.frame;
    // Below the drawing is room for the scale bar and a line of words.
    let (width, height) = (mm(right - left), mm(bottom - top) + 18.0);
    let title = format!("{}, {}: {name}, 1 : 100", show.title, show.venue);
    let mut document = Document::new()
        .set("width", format!("{width}mm"))
        .set("height", format!("{height}mm"))
        .set("viewBox", (0.0, 0.0, width, height))
        .set("font-family", "sans-serif")
        .set("role", "img")
        .add(Title::new(title.clone()))
        .add(Rectangle::new().set("width", width).set("height", height).set("fill", "white"));
    for shape in &drawing.shapes {
        document = document.add(of_shape(shape, left, top));
    }
    // Words last, so that nothing is drawn over them. A letter is taken to be half as wide as it is high, and a little more.
    let wide = |shape: &Shape| shape.label.chars().count() as f64 * WORDS_MM * 0.56 / MM_PER_M;
    let frame = [left + 0.1, top, right - 0.1, bottom];
    for (at, [x, y]) in place_labels(&drawing.shapes, frame, 0.1, |shape| [wide(shape), WORDS_MM * 1.15 / MM_PER_M]) {
        let shape = &drawing.shapes[at];
        document = document.add(
            Text::new(shape.label.replace('\u{a0}', " "))
                .set("x", mm(x + wide(shape) / 2.0 - left))
                .set("y", mm(y - top) + WORDS_MM * 0.9)
                .set("text-anchor", "middle")
                .set("font-size", WORDS_MM)
                .set("stroke", "white")
                .set("stroke-width", 0.8)
                .set("paint-order", "stroke"),
        );
    }
    let (metres, words) = match show.settings.units {
        Units::Metric => (5.0, "5 m"),
        Units::Imperial => (20.0 * 0.3048, "20 ft"),
    };
    let below = height - 15.0;
    for fifth in 0..5 {
        document = document.add(
            Rectangle::new()
                .set("x", mm(1.0) + mm(metres / 5.0) * f64::from(fifth))
                .set("y", below)
                .set("width", mm(metres / 5.0))
                .set("height", 2.0)
                .set("fill", if fifth % 2 == 0 { "black" } else { "white" })
                .set("stroke", "black")
                .set("stroke-width", 0.2),
        );
    }
    let line =
        |words: String, down: f64| Text::new(words).set("x", mm(1.0)).set("y", below + down).set("font-size", WORDS_MM);
    document
        .add(line(format!("{words}.  {title}"), 7.0))
        .add(line("Figures and questions for the competent person; no permission to hang anything.".to_owned(), 12.0))
}

/// Fill, line and its width in millimetres, and dashes.
const fn look_of(draws: Draws) -> (&'static str, &'static str, f64, &'static str) {
    match draws {
        Draws::Wall => ("none", "black", 0.5, ""),
        Draws::Stage => ("#e1e1e1", "black", 0.3, ""),
        Draws::Free => ("none", "black", 0.25, "0.6 0.9"),
        Draws::Row => ("white", "#737373", 0.15, ""),
        Draws::Beam => ("none", "#595959", 0.2, "1.6 1"),
        Draws::Keep => ("none", "#d55e00", 0.25, "0.6 0.9"),
        Draws::Obstacle => ("#a5a5a5", "black", 0.25, ""),
        Draws::Bar => ("black", "black", 0.3, ""),
        Draws::Point => ("#d55e00", "black", 0.2, ""),
        Draws::Screen => ("#0072b2", "#0072b2", 0.45, ""),
        Draws::Fabric => ("#009e73", "#009e73", 0.55, ""),
        Draws::Lamp => ("#e69f00", "black", 0.2, ""),
        Draws::Performer => ("#3c3c3c", "none", 0.0, ""),
        Draws::Projector => ("#0072b2", "black", 0.25, ""),
        Draws::Sight => ("none", "#595959", 0.2, ""),
        Draws::Seat => ("white", "black", 0.5, ""),
        Draws::Dimension => ("none", "black", 0.2, ""),
    }
}

fn of_shape(shape: &Shape, left: f64, top: f64) -> Group {
    let (fill, stroke, width, dashes) = look_of(shape.draws);
    let mut group = Group::new().set("fill", fill).set("stroke", stroke).set("stroke-width", width);
    if !dashes.is_empty() {
        group = group.set("stroke-dasharray", dashes);
    }
    let at = |p: &[f64; 2]| (mm(p[0] - left), mm(p[1] - top));
    if shape.closed {
        let points: Vec<String> = shape.points.iter().map(at).map(|(x, y)| format!("{x},{y}")).collect();
        return group.add(Polygon::new().set("points", points.join(" ")));
    }
    for pair in shape.points.windows(2) {
        let ((x1, y1), (x2, y2)) = (at(&pair[0]), at(&pair[1]));
        group = group.add(Line::new().set("x1", x1).set("y1", y1).set("x2", x2).set("y2", y2));
        if shape.draws == Draws::Dimension {
            for (x, y) in [(x1, y1), (x2, y2)] {
                let tick = Line::new().set("x1", x - 0.9).set("y1", y + 0.9).set("x2", x + 0.9).set("y2", y - 0.9);
                group = group.add(tick.set("stroke-width", 0.35));
            }
        }
    }
    group
}
