//! What is hired, owned or bought, and what it costs.

use super::rig::is_default;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One line of the kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KitItem {
    /// What it is.
    pub name: String,
    /// How many.
    pub quantity: u32,
    /// Where it comes from.
    #[serde(default)]
    pub source: Source,
    /// Price of one in hundredths of the currency.
    #[serde(default)]
    pub cents: u64,
    /// What the price is for.
    #[serde(default)]
    pub per: Per,
    /// Days it is needed, if the price is per day.
    #[serde(default = "one_day")]
    pub days: u32,
    /// Who brings it, as a role.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub brings: String,
    /// Services it is for, by name; an empty list means all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub services: Vec<String>,
    /// Whether these are release units, so that they can be counted against what the hangs use.
    #[serde(default, skip_serializing_if = "is_default")]
    pub release_units: bool,
    /// Any other remarks.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

const fn one_day() -> u32 {
    1
}

/// Where kit comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    /// Hired for the show.
    #[default]
    Hired,
    /// The house's own.
    Owned,
    /// Bought for the show.
    Bought,
    /// Borrowed.
    Borrowed,
}

/// What a price is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Per {
    /// The whole show.
    #[default]
    Show,
    /// Each day.
    Day,
    /// Each service it is for.
    Service,
}

/// What the show may cost.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Budget {
    /// Hundredths of the currency.
    pub cents: u64,
    /// Its name, such as "EUR".
    #[serde(default)]
    pub currency: String,
    /// Contingency, percent of the cost.
    #[serde(default)]
    pub contingency_percent: u8,
}

impl KitItem {
    /// Cost of the line in hundredths of the currency, for a show of `services` services.
    pub fn cost_cents(&self, services: usize) -> u128 {
        let times = match self.per {
            Per::Show => 1,
            Per::Day => u128::from(self.days),
            Per::Service if self.services.is_empty() => services as u128,
            Per::Service => self.services.len() as u128,
        };
        u128::from(self.quantity) * u128::from(self.cents) * times
    }
}

impl Budget {
    /// The contingency for a kit that costs `kit` hundredths of the currency, rounded down.
    pub fn kept_cents(&self, kit: u128) -> u128 {
        kit * u128::from(self.contingency_percent) / 100
    }
}

/// Hundredths of a currency as people write them: 1234 is "12.34".
pub fn money(cents: u128) -> String {
    format!("{}.{:02}", cents / 100, cents % 100)
}
