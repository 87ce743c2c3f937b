//! A battery through pieces of time, in their order: what is drawn, what is lost while it is full, and what is missing
//! while it is empty.
//!
//! Every figure here is on the side of the loads, behind the converter: a Wh of the battery, of the sun or of the engine
//! counts as what the converter makes of it, so that gains less loads is what the battery gains.
use std::ops::Range;

/// Less than this is not a battery, Wh.
const NOTHING_WH: f64 = 1e-6;

/// A battery as loads see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatteryStore {
    /// What loads can use of it when it is full, Wh.
    pub capacity_wh: f64,
    /// With this much in it, what went off comes on again, Wh.
    pub restart_wh: f64,
}

/// What a battery holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BatteryCharge {
    /// What loads can use of it, Wh.
    pub wh: f64,
    /// It was empty, and what hangs on it is off.
    pub is_off: bool,
}

/// A piece of time with steady powers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerPiece {
    /// Its length, seconds.
    pub length_s: f64,
    /// What everything that should be on draws, W.
    pub load_w: f64,
    /// What engine and sun give, as loads can use it, W.
    pub gain_w: f64,
}

/// What became of a piece of time.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceWalked {
    /// Drawn by the loads, Wh.
    pub drawn_wh: f64,
    /// Given while the battery was full and nothing could use it, Wh.
    pub lost_wh: f64,
    /// What the loads would have drawn while they were off, Wh.
    pub missing_wh: f64,
    /// When loads that should be on were off, seconds after the start of the piece.
    pub off_s: Vec<Range<f64>>,
    /// The least that the battery held, Wh.
    pub least_wh: f64,
    /// When it first held so little, seconds after the start of the piece.
    pub least_at_s: f64,
}

impl BatteryStore {
    /// A battery by what loads can use of it, and by the share of that with which they come on again.
    pub fn new(capacity_wh: f64, restart_share: f64) -> Self {
        let capacity_wh = if capacity_wh > NOTHING_WH { capacity_wh } else { 0.0 };
        Self { capacity_wh, restart_wh: capacity_wh * restart_share.clamp(0.01, 1.0) }
    }
    /// The battery with a share of what it can hold.
    pub fn charged(&self, share: f64) -> BatteryCharge {
        BatteryCharge { wh: self.capacity_wh * share.clamp(0.0, 1.0), is_off: false }
    }
    /// Whether what is off comes on: the battery holds enough again, or the gains alone are enough.
    fn comes_on(&self, charge: &BatteryCharge, piece: &PowerPiece) -> bool {
        let recharged = self.restart_wh > 0.0 && charge.wh >= self.restart_wh;
        recharged || piece.load_w > 0.0 && piece.gain_w >= piece.load_w
    }
    /// Seconds until loads go off or come on, if nothing else changes.
    fn turns_in_s(&self, charge: &BatteryCharge, piece: &PowerPiece) -> f64 {
        let net_w = piece.gain_w - piece.load_w;
        match charge.is_off {
            true if self.restart_wh > 0.0 && piece.gain_w > 0.0 => {
                (self.restart_wh - charge.wh) / piece.gain_w * 3_600.0
            }
            false if net_w < 0.0 => charge.wh / -net_w * 3_600.0,
            _ => f64::INFINITY,
        }
    }
    /// Goes through a piece of time.
    pub fn walk(&self, charge: &mut BatteryCharge, piece: &PowerPiece) -> PieceWalked {
        let mut out = PieceWalked {
            drawn_wh: 0.0,
            lost_wh: 0.0,
            missing_wh: 0.0,
            off_s: Vec::new(),
            least_wh: charge.wh,
            least_at_s: 0.0,
        };
        let mut at_s = 0.0;
        while at_s < piece.length_s {
            if charge.is_off && self.comes_on(charge, piece) {
                charge.is_off = false;
            }
            let turns_s = self.turns_in_s(charge, piece);
            let left_s = piece.length_s - at_s;
            let turns = turns_s < left_s;
            let hours = turns_s.min(left_s) / 3_600.0;
            let to_s = if turns { at_s + turns_s } else { piece.length_s };
            let load_w = if charge.is_off { 0.0 } else { piece.load_w };
            out.drawn_wh += load_w * hours;
            if charge.is_off && piece.load_w > 0.0 {
                out.missing_wh += piece.load_w * hours;
                out.off_s.push(at_s..to_s);
            }
            let wh = charge.wh + (piece.gain_w - load_w) * hours;
            out.lost_wh += (wh - self.capacity_wh).max(0.0);
            charge.wh = match (turns, charge.is_off) {
                (true, true) => self.restart_wh,
                (true, false) => 0.0,
                (false, _) => wh.clamp(0.0, self.capacity_wh),
            };
            if turns {
                charge.is_off = !charge.is_off;
            }
            if charge.wh < out.least_wh {
                (out.least_wh, out.least_at_s) = (charge.wh, to_s);
            }
            at_s = to_s;
        }
        out
    }
}
