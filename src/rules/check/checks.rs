//! Checks: where, in which set-up, how long, and how their signs are answered.

use crate::ids::{CheckId, Id, KindId};
use crate::notice::{Notice, codes};
use crate::rules::base::{
    Answering, Check, Choice, Measured, Named, Reason, Repeats, RuleBase, Scope, SetUpNeeds, Sign,
    Vary, Where,
};
use crate::rules::check::context::Context;
use crate::rules::check::signs::Asker;
use crate::rules::check::values::Owner;
use crate::rules::raw::{Entry, Fields, Node, RawRules};
use crate::source::Span;

impl Context {
    /// All checks; sweeps take what they need from the checks they sweep.
    pub fn read_checks(&mut self, raw: &RawRules, rules: &mut RuleBase) {
        for entry in &raw.checks {
            let check = self.check(*entry, rules);
            rules.checks.push(check);
        }
        for (at, entry) in raw.checks.iter().enumerate() {
            self.finish_sweep(CheckId::from_index(at), *entry, rules);
        }
    }

    fn check(&mut self, entry: Entry, rules: &RuleBase) -> Check {
        let mut check = blank(&entry.key.text);
        let at = entry.key.span;
        let mut needs_at = at;
        let mut steps = Vec::new();
        if let Some(mut fields) = self.fields(entry.node, at, "a check") {
            check.named = self.named(&entry.key.text, &mut fields);
            check.scope = self.scope(&mut fields);
            let owner = if matches!(check.scope, Scope::Parts(_)) {
                Owner::Part
            } else {
                Owner::Vehicle
            };
            let only = fields.take("where");
            check.only = self.condition(only, owner);
            let intake = fields.take("intake");
            check.intake = self.yes(intake);
            let reports_loss = fields.take("reports_loss");
            check.reports_loss = self.yes(reports_loss);
            let once_repaired = fields.take("once_repaired");
            check.once_repaired = self.yes(once_repaired);
            let by_hand = fields.take("by_hand");
            check.by_hand = self.yes(by_hand);
            needs_at = self.set_up_of(&mut fields, &mut check, rules);
            self.effort(&mut fields, &mut check, owner);
            let ask = fields.need("ask", &mut self.notices);
            check.ask = self.text_or_empty(ask);
            // A question of the complaint is only asked; every other check is also done.
            let how = if check.intake {
                fields.take("how")
            } else {
                fields.need("how", &mut self.notices)
            };
            steps = self.step_spans(how);
            check.how = if how.is_some() {
                self.steps(how)
            } else {
                Vec::new()
            };
            let spoils = fields.take("spoils");
            check.spoils = self.ids(spoils, |tables| &tables.checks);
            check.reason = self.reason(&mut fields);
            self.signs_of(&mut fields, &mut check, owner, rules);
            let measured = fields.take("measured");
            check.measured = measured.and_then(|node| self.measured(node, &check));
            let repeats = fields.take("repeats");
            check.repeats = repeats.map_or(Repeats::Same, |node| self.repeats(node, &check));
            self.finish(fields);
        }
        self.spots.check_needs.push(needs_at);
        self.spots.check_steps.push(steps);
        check
    }

    fn scope(&mut self, fields: &mut Fields<'_>) -> Scope {
        let each = fields.take("each");
        let sweeps = fields.take("sweeps");
        match (each, sweeps) {
            (Some(each), Some(sweeps)) => {
                let message = "a sweep is done once for each zone: it takes no `each:`";
                self.notices.push(
                    Notice::error(codes::BAD_SWEEP, sweeps.span, message)
                        .label(each.span, "`each:`"),
                );
                Scope::Vehicle
            }
            (Some(each), None) => {
                let kinds: Vec<KindId> = self.ids(Some(each), |tables| &tables.kinds);
                if each.items().is_some_and(<[Node]>::is_empty) {
                    self.error(
                        codes::EMPTY_TEXT,
                        each.span,
                        "`each:` names at least one kind of part",
                    );
                }
                Scope::Parts(kinds)
            }
            (None, Some(sweeps)) => self
                .tables
                .checks
                .find_node(sweeps, &mut self.notices)
                .map_or(Scope::Vehicle, Scope::Sweep),
            (None, None) => Scope::Vehicle,
        }
    }

    /// Occasion and needs, put together. Returns where the set-up is written.
    fn set_up_of(&mut self, fields: &mut Fields<'_>, check: &mut Check, rules: &RuleBase) -> Span {
        let occasion = fields.take("occasion");
        check.occasion =
            occasion.and_then(|node| self.tables.occasions.find_node(node, &mut self.notices));
        let needs = fields.take("needs");
        check.needs = self.needs(needs);
        let meanwhile = fields.take("meanwhile");
        check.meanwhile = self.settings(meanwhile);
        let leaves = fields.take("leaves");
        check.leaves = self.settings(leaves);
        let at = needs.or(occasion).map_or(fields.at(), |node| node.span);
        if let Some(occasion) = check.occasion.and_then(|id| rules.occasions.get(id)) {
            check.needs = self.merge(
                &check.needs,
                &occasion.set_up,
                at,
                &format!("the occasion `{}`", occasion.named.id),
            );
        }
        at
    }

    /// Both set-ups at once: for each facet the values that both allow.
    fn merge(&mut self, own: &SetUpNeeds, other: &SetUpNeeds, at: Span, what: &str) -> SetUpNeeds {
        let mut merged = own.clone();
        for (facet, allowed) in other {
            let Some((_, values)) = merged.iter_mut().find(|(known, _)| known == facet) else {
                merged.push((*facet, allowed.clone()));
                continue;
            };
            values.retain(|value| allowed.contains(value));
            if values.is_empty() {
                let all = &self.facet_values[facet.index()];
                let words: Vec<&str> = allowed.iter().map(|value| all[*value].as_str()).collect();
                let facet = self.tables.facets.name(*facet);
                let message = format!("the check needs another `{facet}` than {what}");
                let help = format!("{what} takes `{facet}: {}`", words.join(" or "));
                self.notices
                    .push(Notice::error(codes::CONTRADICTION, at, message).help(help));
            }
        }
        merged.retain(|(_, values)| !values.is_empty());
        merged
    }

    fn effort(&mut self, fields: &mut Fields<'_>, check: &mut Check, owner: Owner) {
        match fields.take("minutes") {
            Some(node) => {
                check.minutes = self.vary(node, owner, Self::minutes);
            }
            None => self.error_help(
                codes::NO_MINUTES,
                fields.at(),
                "the check does not say how long it takes",
                "add `minutes:`, the hands-on minutes",
            ),
        }
        if let Some(node) = fields.take("waiting") {
            check.waiting = self.vary(node, owner, Self::minutes);
        }
        let tools = fields.take("tools");
        check.tools = self.ids(tools, |tables| &tables.tools);
        let cautions = fields.take("cautions");
        check.cautions = self.ids(cautions, |tables| &tables.cautions);
    }

    fn repeats(&mut self, node: &Node, check: &Check) -> Repeats {
        let after = match (node.text(), node.entries()) {
            (Some("same"), _) => return Repeats::Same,
            (Some("independent"), _) => 0.0,
            (_, Some(_)) => {
                let Some(mut fields) = self.fields(node, node.span, "`repeats:`") else {
                    return Repeats::Same;
                };
                let after = fields.need("independent_after", &mut self.notices);
                let after = after.map_or(0.0, |node| self.minutes(node));
                self.finish(fields);
                after
            }
            _ => {
                self.wrong_kind(
                    "`same`, `independent` or `{independent_after: MINUTES}`",
                    node,
                );
                return Repeats::Same;
            }
        };
        let dry_days = matches!(check.measured, None | Some(Measured::DryDays(_)));
        let why_not = if check.intake {
            "what the owner tells is told once"
        } else if !dry_days {
            "an instrument that reads the same again has the same error"
        } else {
            return Repeats::Independent { after };
        };
        self.error_help(
            codes::NOT_HERE,
            node.span,
            format!("repeats of this check are not independent: {why_not}"),
            "take `repeats:` out",
        );
        Repeats::Same
    }

    fn signs_of(
        &mut self,
        fields: &mut Fields<'_>,
        check: &mut Check,
        owner: Owner,
        rules: &RuleBase,
    ) {
        let asker = Asker::new(check, owner, rules);
        if let Scope::Sweep(_) = check.scope {
            for key in ["answers", "background", "reads", "signs", "choices"] {
                if let Some((key, _)) = fields.take_entry(key) {
                    let message = format!("a sweep has no `{}:` of its own", key.text);
                    self.error_help(
                        codes::BAD_SWEEP,
                        key.span,
                        message,
                        "it answers the signs of the check it sweeps",
                    );
                }
            }
            return;
        }
        if let Some(node) = fields.take("signs") {
            for key in ["answers", "background", "reads"] {
                if let Some((key, _)) = fields.take_entry(key) {
                    let message = format!(
                        "`{}:` stands inside each sign when there are `signs:`",
                        key.text
                    );
                    self.error(codes::UNKNOWN_KEY, key.span, message);
                }
            }
            if self.fields(node, node.span, "`signs:`").is_some() {
                for (key, node) in node.entries().unwrap_or_default() {
                    if check.signs.iter().any(|sign| sign.named.id == key.text) {
                        continue;
                    }
                    self.check_name(&key.text, key.span, "sign");
                    if let Some(mut fields) = self.fields(node, key.span, "a sign") {
                        let named = self.named(&key.text, &mut fields);
                        let sign = self.sign(named, &mut fields, &asker);
                        check.signs.push(sign);
                        self.finish(fields);
                    }
                }
                if node.entries().is_none_or(<[_]>::is_empty) {
                    self.error(
                        codes::EMPTY_TEXT,
                        node.span,
                        "a check needs at least one sign",
                    );
                }
            }
        } else {
            let named = check.named.clone();
            let sign = self.sign(named, fields, &asker);
            check.signs.push(sign);
        }
        if let Some(node) = fields.take("choices") {
            let choices = self.choices(node, &check.signs);
            check.answering = Answering::Choice(choices);
        }
    }

    fn choices(&mut self, node: &Node, signs: &[Sign]) -> Vec<Choice> {
        let mut choices: Vec<Choice> = Vec::new();
        if self.fields(node, node.span, "`choices:`").is_none() {
            return choices;
        }
        let entries = node.entries().unwrap_or_default();
        for (at, (key, node)) in entries.iter().enumerate() {
            let last = at + 1 == entries.len();
            self.check_name(&key.text, key.span, "choice");
            let Some(mut fields) = self.fields(node, key.span, "a choice") else {
                continue;
            };
            let says = fields.need("says", &mut self.notices);
            let says = self.text_or_empty(says);
            let node = fields.take("shows");
            let shows = node.and_then(|node| self.sign_answer(node, signs));
            match (node, last) {
                (Some(node), true) => {
                    let message = "the last choice is \"none of these\": it shows nothing";
                    self.error(codes::BAD_CHOICES, node.span, message);
                }
                (None, false) => {
                    let message = "a choice before the last must show an answer";
                    self.error_help(
                        codes::BAD_CHOICES,
                        key.span,
                        message,
                        "add `shows: SIGN.ANSWER`",
                    );
                }
                _ => {}
            }
            if let (Some((sign, answer)), Some(node)) = (shows, node) {
                let earlier = choices
                    .iter()
                    .filter_map(|choice| choice.shows)
                    .find(|(known, _)| *known == sign);
                if answer == 0 {
                    let message =
                        "a choice cannot show a normal answer: choosing something else says that";
                    self.error(codes::BAD_CHOICES, node.span, message);
                } else if earlier.is_some_and(|(_, known)| known <= answer) {
                    let message = format!(
                        "choices go from worst to best, and `{}` is no better than one before it",
                        key.text
                    );
                    self.error_help(
                        codes::BAD_CHOICES,
                        node.span,
                        message,
                        "answers of a sign are listed from normal to worst",
                    );
                }
            }
            self.finish(fields);
            choices.push(Choice {
                named: Named {
                    id: key.text.clone(),
                    name: says,
                },
                shows,
            });
        }
        if entries.is_empty() {
            self.error(
                codes::EMPTY_TEXT,
                node.span,
                "a list of choices needs choices",
            );
        }
        self.unchosen(node, signs, &choices);
        choices
    }

    /// Reports answers that no choice shows: they could never be given.
    fn unchosen(&mut self, node: &Node, signs: &[Sign], choices: &[Choice]) {
        for (at, sign) in signs.iter().enumerate() {
            for (position, answer) in sign.answers.iter().enumerate().skip(1) {
                if choices
                    .iter()
                    .all(|choice| choice.shows != Some((at, position)))
                {
                    let message = format!(
                        "no choice shows the answer `{}.{}`",
                        sign.named.id, answer.id
                    );
                    self.error(codes::BAD_CHOICES, node.span, message);
                }
            }
        }
    }

    /// Gives a sweep the occasion and the set-up of the check it sweeps.
    fn finish_sweep(&mut self, id: CheckId, entry: Entry, rules: &mut RuleBase) {
        let Scope::Sweep(swept) = rules.checks[id].scope else {
            return;
        };
        let at = entry
            .node
            .get("sweeps")
            .map_or(entry.key.span, |node| node.span);
        let of = &rules.checks[swept];
        let what = match of.scope {
            Scope::Parts(_) => None,
            Scope::Sweep(_) => Some("is a sweep itself"),
            Scope::Vehicle => Some("is done once for the vehicle, not at each place"),
        };
        if let Some(what) = what {
            let message = format!("`{}` {what}: it cannot be swept", of.named.id);
            let label = self.tables.checks.span(swept);
            self.notices
                .push(Notice::error(codes::BAD_SWEEP, at, message).label(label, "this check"));
            return;
        }
        let (needs, occasion, name) = (
            of.needs.clone(),
            of.occasion,
            format!("the check `{}`", of.named.id),
        );
        let merged = self.merge(&rules.checks[id].needs, &needs, at, &name);
        let check = &mut rules.checks[id];
        check.needs = merged;
        check.occasion = check.occasion.or(occasion);
    }
}

fn blank(id: &str) -> Check {
    Check {
        named: Named {
            id: id.to_owned(),
            name: String::new(),
        },
        intake: false,
        reports_loss: false,
        once_repaired: false,
        by_hand: false,
        scope: Scope::Vehicle,
        only: Where::default(),
        occasion: None,
        needs: Vec::new(),
        meanwhile: Vec::new(),
        leaves: Vec::new(),
        minutes: Vary::always(0.0),
        waiting: Vary::always(0.0),
        tools: Vec::new(),
        cautions: Vec::new(),
        ask: String::new(),
        how: Vec::new(),
        spoils: Vec::new(),
        repeats: Repeats::Same,
        signs: Vec::new(),
        answering: Answering::Each,
        measured: None,
        reason: Reason::default(),
    }
}
