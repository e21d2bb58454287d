//! Offers: what the same things cost hired, owned or borrowed, side by side.

use super::Source;
use super::rig::is_default;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// An offer.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Offer {
    /// From whom, such as "hire A".
    pub name: String,
    /// Where its things come from.
    pub source: Source,
    /// The lines.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<OfferLine>,
    /// Labour, hundredths of the currency.
    #[serde(skip_serializing_if = "is_default")]
    pub labour_cents: u64,
    /// Transport, hundredths of the currency.
    #[serde(skip_serializing_if = "is_default")]
    pub transport_cents: u64,
    /// Deposit, hundredths of the currency. It comes back, and is counted apart.
    #[serde(skip_serializing_if = "is_default")]
    pub deposit_cents: u64,
    /// Contingency, percent. 10 to 15: common practice, no source.
    pub contingency_percent: u8,
    /// Days for which things are needed.
    pub days: u16,
    /// Anything else.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// One line of an offer.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct OfferLine {
    /// What.
    pub what: String,
    /// How many.
    pub quantity: u32,
    /// Price of one for a day, hundredths of the currency.
    #[serde(skip_serializing_if = "is_default")]
    pub day_cents: u64,
    /// Price of one for a week, hundredths of the currency, if there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub week_cents: Option<u64>,
    /// How soon it is left out if money is short: 0 never, else the greatest first.
    #[serde(skip_serializing_if = "is_default")]
    pub leave_out: u8,
}

impl OfferLine {
    /// What it costs for so many days, hundredths of the currency: in days and weeks as they come out cheapest.
    pub fn cost_cents(&self, days: u16) -> u128 {
        let days = u128::from(days);
        let day = u128::from(self.day_cents);
        let one = match self.week_cents {
            None => days * day,
            Some(week) => {
                let weeks = 0..=days.div_ceil(7);
                let with = |weeks: u128| weeks * u128::from(week) + days.saturating_sub(weeks * 7) * day;
                weeks.map(with).min().unwrap_or(0)
            }
        };
        one * u128::from(self.quantity)
    }
}

/// What an offer costs, hundredths of the currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OfferCost {
    /// Its lines.
    pub lines: u128,
    /// Labour and transport.
    pub extra: u128,
    /// The contingency, rounded up.
    pub contingency: u128,
    /// All of it.
    pub total: u128,
    /// What must be put down and comes back, besides.
    pub deposit: u128,
}

impl Offer {
    /// What it costs without some of its lines.
    fn cost_of(&self, kept: impl Fn(usize) -> bool) -> OfferCost {
        let counted = self.lines.iter().enumerate().filter(|(at, _)| kept(*at));
        let lines: u128 = counted.map(|(_, line)| line.cost_cents(self.days)).sum();
        let extra = u128::from(self.labour_cents) + u128::from(self.transport_cents);
        let contingency = ((lines + extra) * u128::from(self.contingency_percent)).div_ceil(100);
        OfferCost {
            lines,
            extra,
            contingency,
            total: lines + extra + contingency,
            deposit: u128::from(self.deposit_cents),
        }
    }

    /// What it costs.
    pub fn cost(&self) -> OfferCost {
        self.cost_of(|_| true)
    }

    /// The lines that drop out so that it costs no more than `budget` hundredths, by their place, in the order in which they go: those
    /// that are left out soonest first, and of those the dearest. What is never left out stays, even if it costs more: the
    /// second value is what is missing then, 0 if nothing.
    pub fn left_out(&self, budget: u128) -> (Vec<usize>, u128) {
        let mut order: Vec<usize> = (0..self.lines.len()).filter(|at| self.lines[*at].leave_out > 0).collect();
        let cost = |at: &usize| self.lines[*at].cost_cents(self.days);
        order.sort_by(|a, b| {
            self.lines[*b].leave_out.cmp(&self.lines[*a].leave_out).then_with(|| cost(b).cmp(&cost(a)))
        });
        let mut out: Vec<usize> = Vec::new();
        let over = |out: &[usize]| self.cost_of(|at| !out.contains(&at)).total.saturating_sub(budget);
        for at in order {
            if over(&out) == 0 {
                break;
            }
            out.push(at);
        }
        let missing = over(&out);
        (out, missing)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(what: &str, quantity: u32, day: u64, week: Option<u64>, leave_out: u8) -> OfferLine {
        OfferLine { what: what.into(), quantity, day_cents: day, week_cents: week, leave_out }
    }

    /// By hand: 20 a day, 60 a week. 2 days 40, 3 days 60, 7 days 60, 8 days 80, 10 days 120 (two weeks or a week and three days).
    #[test]
    fn days_and_weeks_as_they_come_out_cheapest() {
        let of = |days| line("lift", 1, 2000, Some(6000), 0).cost_cents(days);
        for (days, cents) in [(0, 0), (2, 4000), (3, 6000), (4, 6000), (7, 6000), (8, 8000), (10, 12_000), (14, 12_000)]
        {
            assert_eq!(of(days), cents, "{days} days");
        }
        assert_eq!(line("lift", 3, 2000, None, 0).cost_cents(4), 24_000);
    }

    #[test]
    fn what_drops_out_under_a_budget() {
        let offer = Offer {
            lines: vec![
                line("units", 8, 1000, None, 0),
                line("haze", 1, 3000, None, 2),
                line("lamp", 2, 2500, None, 1),
                line("spare lamp", 1, 2000, None, 2),
            ],
            labour_cents: 10_000,
            transport_cents: 1000,
            deposit_cents: 5000,
            contingency_percent: 10,
            days: 1,
            ..Offer::default()
        };
        // 80 + 30 + 50 + 20 = 180, 110 besides, 29 kept back.
        let cost = offer.cost();
        assert_eq!(
            (cost.lines, cost.extra, cost.contingency, cost.total, cost.deposit),
            (18_000, 11_000, 2900, 31_900, 5000)
        );
        assert_eq!(offer.left_out(31_900), (vec![], 0));
        assert_eq!(offer.left_out(31_899), (vec![1], 0));
        assert_eq!(offer.left_out(28_599), (vec![1, 3], 0));
        assert_eq!(offer.left_out(26_399), (vec![1, 3, 2], 0));
        // Units, labour, transport and their tenth are 209.
        assert_eq!(offer.left_out(20_000), (vec![1, 3, 2], 900));
        // A part of a hundredth is kept back whole.
        assert_eq!(Offer { contingency_percent: 1, labour_cents: 1, ..Offer::default() }.cost().contingency, 1);
    }
}
