//! Checks of the whole: circles, safety, reach, and what nothing shows or uses.
//!
//! In: a rule base and layouts whose parts are right. Out: notices.

mod circles;
mod placed;
mod reach;
mod safety;
mod shown;
mod used;

use crate::rules::base::RuleBase;
use crate::rules::check::context::Context;
use crate::rules::check::layouts::ReadLayout;

/// All checks of the whole.
pub fn check(context: &mut Context, rules: &RuleBase, layouts: &[ReadLayout]) {
    circles::causes(context, rules, layouts);
    safety::check(context, rules);
    reach::check(context, rules, layouts);
    shown::check(context, rules, layouts);
    for layout in layouts {
        placed::check(context, rules, layout);
    }
    if !layouts.is_empty() {
        used::check(context, rules, layouts);
    }
}
