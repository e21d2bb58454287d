//! Equipment, its cost, and the budget.

use super::rows::{empty, take_out};
use crate::widgets::fields::{Fields, heading, heads};
use egui::accesskit::Role;
use egui::{DragValue, Grid, Ui, WidgetInfo};
use letfall_core::limits::{self, Limit};
use letfall_core::show::{Budget, KitItem, Per, Show, Source, money};

/// A field for a price in hundredths.
pub fn price(ui: &mut Ui, fields: &mut Fields, cents: &mut u64, limit: &Limit, name: &str) {
    let drag = DragValue::new(cents)
        .range(limit.range())
        .clamp_existing_to_range(false)
        .custom_formatter(|n, _| format!("{:.2}", n / 100.0))
        .custom_parser(|t| t.trim().parse::<f64>().ok().map(|n| libm::round(n * 100.0)));
    let response = ui.add(drag);
    response.widget_info(|| WidgetInfo::labeled(Role::SpinButton, true, name));
    fields.look(&response);
}

/// Shows the equipment and the budget.
pub fn kit(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Kit");
    empty(ui, show.kit.is_empty(), "What is hired, owned or bought, how many, and who brings it.");
    let services = show.services.len();
    let words = |all: &[&str]| all.iter().map(|w| (*w).to_owned()).collect::<Vec<_>>();
    let sources: Vec<_> = [Source::Hired, Source::Borrowed, Source::Owned, Source::Bought]
        .into_iter()
        .zip(words(&["hired", "borrowed", "owned", "bought"]))
        .collect();
    let pers: Vec<_> =
        [Per::Show, Per::Day, Per::Service].into_iter().zip(words(&["for the show", "a day", "a service"])).collect();
    let mut gone = None;
    let mut total = 0u128;
    Grid::new("kit").striped(true).spacing([10.0, 6.0]).show(ui, |ui| {
        if !show.kit.is_empty() {
            heads(
                ui,
                &[
                    "What",
                    "How many",
                    "From",
                    "Price of one",
                    "for",
                    "Days",
                    "Who brings it",
                    "Release units",
                    "Note",
                    "Comes to",
                    "",
                ],
            );
        }
        for (at, item) in show.kit.iter_mut().enumerate() {
            let whose = item.name.clone();
            let name = |part: &str| format!("{part} of {whose}");
            fields.text(ui, &mut item.name, 240.0, "Kit name");
            fields.whole(ui, &mut item.quantity, &limits::QUANTITY, &name("How many"));
            fields.choice(ui, &mut item.source, &sources, 96.0, &name("Source"));
            price(ui, fields, &mut item.cents, &limits::PRICE, &name("Price of one"));
            fields.choice(ui, &mut item.per, &pers, 124.0, &name("What the price is for"));
            fields.whole(ui, &mut item.days, &limits::DAYS, &name("Days"));
            fields.text(ui, &mut item.brings, 130.0, &name("Who brings"));
            fields.tick(ui, &mut item.release_units, "counted", &name("Release units"));
            fields.text(ui, &mut item.note, 130.0, &name("Note"));
            let cost = item.cost_cents(services);
            total += cost;
            ui.monospace(money(cost));
            if fields.remove(ui, &whose) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    take_out(&mut show.kit, gone);
    if fields.add(ui, "Add to the kit") {
        show.kit.push(KitItem {
            name: "New item".to_owned(),
            quantity: 1,
            source: Source::Hired,
            cents: 0,
            per: Per::Show,
            days: 1,
            release_units: false,
            brings: String::new(),
            services: Vec::new(),
            note: String::new(),
        });
    }
    ui.add_space(14.0);
    heading(ui, "Budget");
    let mut known = show.budget.is_some();
    fields.tick(ui, &mut known, "There is a budget", "There is a budget");
    if !known {
        show.budget = None;
        ui.label(format!("All comes to {}", money(total)));
        return;
    }
    let usual = || Budget { cents: 0, currency: "EUR".to_owned(), contingency_percent: 10 };
    let before = show.budget.clone().unwrap_or_else(usual);
    let mut budget = before.clone();
    let mut kept = 0;
    ui.horizontal(|ui| {
        price(ui, fields, &mut budget.cents, &limits::BUDGET, "Budget");
        fields.text(ui, &mut budget.currency, 60.0, "Currency");
        ui.label("of which kept back for the unforeseen, by cost");
        fields.whole(ui, &mut budget.contingency_percent, &limits::CONTINGENCY, "Kept back");
        kept = budget.kept_cents(total);
    });
    // Do not store a budget that nobody has entered.
    if budget != before {
        show.budget = Some(budget.clone());
    }
    let all = total + kept;
    let left = u128::from(budget.cents).checked_sub(all);
    let end = left.map_or_else(
        || format!("{} over the budget", money(all - u128::from(budget.cents))),
        |left| format!("{} left of {} {}", money(left), money(u128::from(budget.cents)), budget.currency),
    );
    ui.label(format!("Kit {} and {} kept back make {}: {end}", money(total), money(kept), money(all)));
    if services > 1 {
        ui.label(format!("Shared among {services} services: {} each", money(all / services as u128)));
    }
}
