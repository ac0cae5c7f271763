//! One layout by itself: the parts that must be there, and where wetness runs.

use crate::ids::Id;
use crate::notice::{Notice, codes};
use crate::rules::base::{Kind, RuleBase};
use crate::rules::check::context::Context;
use crate::rules::check::layouts::ReadLayout;
use crate::rules::check::whole::circles;

/// Checks one layout.
pub fn check(context: &mut Context, rules: &RuleBase, read: &ReadLayout) {
    let having = |what: fn(&Kind) -> bool| -> Vec<_> {
        read.layout
            .parts
            .enumerated()
            .filter(|(_, part)| what(&rules.kinds[part.kind]))
            .map(|(id, _)| id)
            .collect()
    };
    let kinds = |what: fn(&Kind) -> bool| -> String {
        let names: Vec<&str> = rules
            .kinds
            .iter()
            .filter(|kind| what(kind))
            .map(|kind| kind.named.id.as_str())
            .collect();
        if names.is_empty() {
            "the rules declare no such kind yet".to_owned()
        } else {
            names.join(" or ")
        }
    };
    let elsewhere = having(|kind| kind.elsewhere);
    match elsewhere.as_slice() {
        [_] => {}
        [] => {
            let help = format!("add a part of the kind: {}", kinds(|kind| kind.elsewhere));
            let message = "the layout has no part for \"elsewhere\": no list of parts is complete";
            context
                .notices
                .push(Notice::error(codes::NO_ELSEWHERE, read.at, message).help(help));
        }
        [first, second, ..] => {
            let (first, second) = (read.parts.span(*first), read.parts.span(*second));
            let message = "the layout has two parts for \"elsewhere\"";
            context.notices.push(
                Notice::error(codes::NO_ELSEWHERE, second, message).label(first, "the first"),
            );
        }
    }
    if having(|kind| kind.apart).is_empty() {
        let help = format!("add a part of the kind: {}", kinds(|kind| kind.apart));
        let message = "the layout has no tester, whose own leak must be told apart";
        context
            .notices
            .push(Notice::error(codes::NO_TESTER, read.at, message).help(help));
    }
    for (id, part) in read.layout.parts.enumerated() {
        for ((below, _), span) in part.runs_down_to.iter().zip(&read.runs[id.index()]) {
            let below = &read.layout.parts[*below];
            if below.height_cm > part.height_cm {
                let message = format!(
                    "`{}` at {} cm cannot run down to `{}` at {} cm",
                    part.named.id, part.height_cm, below.named.id, below.height_cm
                );
                let help = "mend one of the heights, or leave the place out";
                context
                    .notices
                    .push(Notice::error(codes::UPHILL, *span, message).help(help));
            }
        }
    }
    circles::trails(context, read);
}
