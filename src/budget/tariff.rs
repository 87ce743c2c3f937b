//! Tariffs: what an amount costs, where two of them cost the same, which is cheapest.
use serde::Serialize;

use super::data::gb;
use super::settings::Tariff;

/// What a tariff makes of the trip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TariffCost {
    /// Its name.
    pub name: String,
    /// What the month costs with the trip's data in it; none where the link ends before.
    pub cost: Option<f64>,
    /// Data beyond the allowance, GB.
    pub extra_gb: f64,
    /// Day of the trip, from 1, on which the allowance runs out; none where the trip ends before.
    pub runs_out_on_day: Option<u32>,
    /// Cheapest of those that reach to the end of the trip.
    pub cheapest: bool,
}

/// Two tariffs that cost the same at some amount.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BreakEven {
    /// Cheaper below it.
    pub below: String,
    /// Cheaper above it.
    pub above: String,
    /// The amount, GB a month.
    pub gb: f64,
}

/// Price of a month in which this many GB are used; none where the link ends before.
pub fn cost(tariff: &Tariff, used_gb: f64) -> Option<f64> {
    let extra_gb = tariff.included_gb.map_or(0.0, |included| (used_gb - included).max(0.0));
    match tariff.extra_per_gb {
        Some(each) => Some(tariff.price + each * extra_gb),
        None if extra_gb > 0.0 => None,
        None => Some(tariff.price),
    }
}

/// Every tariff at the data of the trip.
pub fn costs(tariffs: &[Tariff], day_bytes: u64, days: u32) -> Vec<TariffCost> {
    let used_gb = gb(day_bytes * u64::from(days));
    let priced: Vec<Option<f64>> = tariffs.iter().map(|t| cost(t, used_gb)).collect();
    let least = priced.iter().flatten().copied().fold(f64::INFINITY, f64::min);
    let one = |(tariff, cost): (&Tariff, Option<f64>)| {
        let out = tariff.included_gb.filter(|included| used_gb > *included);
        TariffCost {
            name: tariff.name.clone(),
            cost,
            extra_gb: out.map_or(0.0, |included| used_gb - included),
            runs_out_on_day: out.map(|included| (included / gb(day_bytes)).floor() as u32 + 1),
            cheapest: cost == Some(least),
        }
    };
    tariffs.iter().zip(priced).map(one).collect()
}

/// Where each pair of tariffs crosses, smallest amount first.
pub fn break_evens(tariffs: &[Tariff]) -> Vec<BreakEven> {
    let mut out = Vec::new();
    for (k, a) in tariffs.iter().enumerate() {
        for b in &tariffs[k + 1..] {
            out.extend(crossings(a, b));
        }
    }
    out.sort_by(|a, b| a.gb.total_cmp(&b.gb));
    out
}

/// Amounts at which one becomes cheaper than the other. Prices are straight between the allowances.
fn crossings(a: &Tariff, b: &Tariff) -> Vec<BreakEven> {
    let mut edges: Vec<f64> = [a, b].iter().filter_map(|t| t.included_gb).chain([0.0]).collect();
    edges.sort_by(f64::total_cmp);
    edges.dedup();
    let difference = |x: f64| Some(cost(a, x)? - cost(b, x)?);
    let mut out = Vec::new();
    for (k, from) in edges.iter().enumerate() {
        // Beyond the last edge one GB shows the slope.
        let to = edges.get(k + 1).copied();
        let (Some(at_from), Some(at_to)) = (difference(*from), difference(to.unwrap_or(from + 1.0))) else { continue };
        let slope = (at_to - at_from) / (to.unwrap_or(from + 1.0) - from);
        let x = from - at_from / slope;
        let inside = slope != 0.0 && x.is_finite() && x > *from && to.is_none_or(|to| x <= to);
        // Where prices only touch, neither becomes cheaper.
        let crosses = |step: f64| difference(x + step).is_none_or(|d| d * slope * step >= 0.0);
        if inside && crosses(1e-6) && crosses(-1e-6) {
            let (below, above) = if slope > 0.0 { (a, b) } else { (b, a) };
            out.push(BreakEven { below: below.name.clone(), above: above.name.clone(), gb: x });
        }
    }
    out
}
