//! Kit and what it costs.

use letfall_core::show::{KitItem, Per, Show, Source, money};
use serde::Serialize;

/// The kit sheet.
#[derive(Serialize)]
pub struct Kit {
    groups: Vec<Group>,
    total: String,
    kept: String,
    kept_percent: u8,
    all: String,
    budget: String,
    left: String,
    over: bool,
    per_service: String,
    currency: String,
}

#[derive(Serialize)]
struct Group {
    name: &'static str,
    rows: Vec<Line>,
    total: String,
}

#[derive(Serialize)]
struct Line {
    name: String,
    quantity: u32,
    price: String,
    per: &'static str,
    days: String,
    brings: String,
    services: String,
    note: String,
    cost: String,
}

/// Works out the kit sheet.
pub fn kit(show: &Show) -> Kit {
    let services = show.services.len();
    let line = |item: &KitItem| Line {
        name: item.name.clone(),
        quantity: item.quantity,
        price: money(u128::from(item.cents)),
        per: match item.per {
            Per::Show => "the show",
            Per::Day => "a day",
            Per::Service => "a service",
        },
        days: if item.per == Per::Day { item.days.to_string() } else { String::new() },
        brings: item.brings.clone(),
        services: if item.services.is_empty() { "all".to_owned() } else { item.services.join(", ") },
        note: item.note.clone(),
        cost: money(item.cost_cents(services)),
    };
    let sum = |items: &[&KitItem]| items.iter().map(|i| i.cost_cents(services)).sum::<u128>();
    let groups = [
        (Source::Hired, "Hired"),
        (Source::Borrowed, "Borrowed"),
        (Source::Owned, "The house's own"),
        (Source::Bought, "Bought"),
    ]
    .into_iter()
    .filter_map(|(source, name)| {
        let items: Vec<&KitItem> = show.kit.iter().filter(|i| i.source == source).collect();
        (!items.is_empty()).then(|| Group {
            name,
            total: money(sum(&items)),
            rows: items.into_iter().map(line).collect(),
        })
    })
    .collect();
    let total = show.kit_cents();
    let budget = show.budget.as_ref();
    let kept = budget.map_or(0, |b| b.kept_cents(total));
    let all = total + kept;
    let may = budget.map(|b| u128::from(b.cents));
    Kit {
        groups,
        total: money(total),
        kept: money(kept),
        kept_percent: budget.map_or(0, |b| b.contingency_percent),
        all: money(all),
        budget: may.map_or_else(String::new, money),
        left: may.map_or_else(String::new, |may| money(may.abs_diff(all))),
        over: may.is_some_and(|may| may < all),
        per_service: if services > 1 { money(all / services as u128) } else { String::new() },
        currency: budget.map_or_else(String::new, |b| b.currency.clone()),
    }
}
