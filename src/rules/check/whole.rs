//! Checks of the whole: cycles, reach, safety, use.

use crate::rules::base::RuleBase;
use crate::rules::check::context::Context;
use crate::rules::check::layouts::ReadLayout;

/// All checks of the whole.
pub fn check(_context: &mut Context, _rules: &RuleBase, _layouts: &[ReadLayout]) {}
