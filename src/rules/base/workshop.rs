//! What a repair takes and brings with it, and when a vehicle may leave.

use crate::ids::{BlockId, CautionId, CheckId, FaultId, KindId, LevelId, PartId, SpaceId};
use crate::rules::base::{Named, SetUpNeeds, Vary, Where};
use crate::rules::layout::Layout;

/// A size that a layout may state of a part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Size {
    /// Id and name ("bore").
    pub named: Named,
    /// Its unit ("mm").
    pub unit: String,
    /// What stands in its place where a layout does not state it ("bore: measure the port").
    pub unknown: String,
}

/// Which faults at which parts something holds for. No kinds and no faults: for all.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Selector {
    /// Any fault of these kinds of part.
    pub kinds: Vec<KindId>,
    /// These faults.
    pub faults: Vec<FaultId>,
    /// Only at parts or vehicles like this.
    pub only: Where,
}

impl Selector {
    /// Whether it holds for a fault of a part of this kind.
    pub fn fits(&self, layout: &Layout, part: PartId, fault: FaultId) -> bool {
        let everywhere = self.kinds.is_empty() && self.faults.is_empty();
        let named = self.kinds.contains(&layout.parts[part].kind) || self.faults.contains(&fault);
        (everywhere || named) && layout.holds(&self.only, Some(part))
    }
}

/// A text for some repairs. It may hold `{place}`, `{limit}`, `{SIZE}`, `{ATTRIBUTE}`, and
/// `{ROLE.SIZE}` or `{ROLE.ATTRIBUTE}` of the part joined under a role.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Which repairs.
    pub of: Selector,
    /// The text.
    pub says: String,
}

/// What some repairs take.
#[derive(Debug, Clone, PartialEq)]
pub struct Takes {
    /// Which repairs.
    pub of: Selector,
    /// Hands-on minutes.
    pub hands: Vary<f64>,
    /// Minutes of waiting.
    pub waiting: Vary<f64>,
    /// The set-up that the work needs.
    pub needs: SetUpNeeds,
}

/// One step of filling and bleeding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FillStep {
    /// Once for each part of these kinds (`{place}`); none: once for the vehicle.
    pub each: Vec<KindId>,
    /// Only at parts or on vehicles like this.
    pub only: Where,
    /// The step; it may hold `{place}`, `{litres}`, `{percent}`, `{concentrate}` and `{water}`.
    pub says: String,
}

/// What stands on a repair sheet beside the repair itself.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetRules {
    /// What repairs take; the first that fits counts.
    pub takes: Vec<Takes>,
    /// Parts to have at hand.
    pub parts: Vec<Note>,
    /// What is renewed with them.
    pub renew_with: Vec<Note>,
    /// Repairs that leave the coolant in.
    pub coolant_stays: Option<Selector>,
    /// Repairs of a circuit that the layout's litres don't count, with what to do there.
    pub own_circuit: Vec<Note>,
    /// The strength to fill with, per cent of concentrate by volume.
    pub fill_percent: Option<f64>,
    /// How to fill and bleed, in order.
    pub fill: Vec<FillStep>,
    /// Cautions, in order.
    pub cautions: Vec<(Selector, CautionId)>,
}

/// A text for some vehicles.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// Only on vehicles like this.
    pub only: Where,
    /// The text.
    pub says: String,
}

/// When a vehicle may leave, and with which words.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReleaseRules {
    /// The set-up in which it leaves.
    pub needs: SetUpNeeds,
    /// What is done before it leaves.
    pub before: Vec<Told>,
    /// What its driver watches.
    pub watch: Vec<Told>,
    /// When it comes back.
    pub come_back: Vec<Told>,
    /// When to stop driving.
    pub stop: Vec<Told>,
    /// What keeps it back.
    pub keeps_back: Vec<KeepsBack>,
}

/// Something that keeps a vehicle back.
#[derive(Debug, Clone, PartialEq)]
pub struct KeepsBack {
    /// Id and name.
    pub named: Named,
    /// Any one of these is enough.
    pub grounds: Vec<Ground>,
    /// Whether the repair with its proof takes this ground away.
    pub until_repaired: bool,
    /// Why it stays, and until when.
    pub says: String,
}

/// A ground for keeping a vehicle back.
#[derive(Debug, Clone, PartialEq)]
pub enum Ground {
    /// A block is up.
    Block(BlockId),
    /// A check has one of these answers: the check, its sign, the answers (positions).
    Answer(CheckId, usize, Vec<usize>),
    /// A leak into one of these spaces is at least so likely.
    Into(Vec<SpaceId>, f64),
    /// Some place is at least so likely to leak at this level or worse.
    Level(LevelId, f64),
    /// More than so many mL were lost a day, as far as the loss is known in numbers.
    LossOver(Vary<f64>),
}
