//! Texts that are too long, or too hard, to read under a bonnet.

use crate::notice::{Notice, Notices, codes};
use crate::rules::base::{Check, ReviewLimits, RuleBase};
use crate::rules::spots::Spots;
use crate::source::Span;
use crate::train::review::ease::Readable;

/// Gives advice on the texts of checks, ways, cautions, faults and conditions.
pub(super) fn check(rules: &RuleBase, spots: &Spots, notices: &mut Notices) {
    let limits = &rules.policy.review;
    for (id, check) in rules.checks.enumerated() {
        let what = format!("the check `{}`", check.named.id);
        let at = |step| spots.check_step(id, step);
        length(&what, spots.check(id), &at, &check.how, limits, notices);
        ease(&what, spots.check(id), &asked(check), limits, notices);
    }
    for (id, way) in rules.ways.enumerated() {
        let what = format!("the way `{}`", way.named.id);
        let at = |step| spots.way_step(id, step);
        length(&what, spots.way(id), &at, &way.how, limits, notices);
        ease(&what, spots.way(id), &way.how, limits, notices);
    }
    for (id, caution) in rules.cautions.enumerated() {
        let what = format!("the caution `{}`", caution.named.id);
        let texts = std::slice::from_ref(&caution.full);
        ease(&what, spots.caution(id), texts, limits, notices);
    }
    for (id, fault) in rules.faults.enumerated() {
        let what = format!("the repair of `{}`", fault.named.id);
        let texts = [fault.shows.clone(), fault.repair.clone()];
        ease(&what, spots.fault(id), &texts, limits, notices);
    }
    for (id, condition) in rules.conditions.enumerated() {
        let what = format!("the remedy of `{}`", condition.named.id);
        let texts = std::slice::from_ref(&condition.remedy);
        ease(&what, spots.condition(id), texts, limits, notices);
    }
}

/// Question and steps: what is read on the job.
fn asked(check: &Check) -> Vec<String> {
    let ask = std::iter::once(check.ask.clone());
    ask.chain(check.how.iter().cloned()).collect()
}

fn length(
    what: &str,
    named: Span,
    at: &dyn Fn(usize) -> Span,
    steps: &[String],
    limits: &ReviewLimits,
    notices: &mut Notices,
) {
    let words: Vec<usize> = steps.iter().map(|step| plain(step).words).collect();
    for (step, &count) in words.iter().enumerate() {
        if count > limits.words_per_step {
            let message = format!("step {} of {what} has {count} words", step + 1);
            let help = format!(
                "nobody keeps more than {} in mind from the screen to the engine: cut it, or make two steps of it",
                limits.words_per_step
            );
            let notice = Notice::advice(codes::HOW_TO_TOO_LONG, at(step), message);
            notices.push(notice.help(help));
        }
    }
    let all: usize = words.iter().sum();
    let (most_steps, most_words) = (limits.steps_per_how_to, limits.words_per_how_to);
    if steps.len() > most_steps || all > most_words {
        let message = format!("{what} takes {} steps and {all} words to say", steps.len());
        let help = format!(
            "at most {most_steps} steps and {most_words} words: say what to do; why belongs under `because:`, what can hurt under `cautions:`"
        );
        let notice = Notice::advice(codes::HOW_TO_TOO_LONG, named, message);
        notices.push(notice.help(help));
    }
}

fn ease(what: &str, at: Span, texts: &[String], limits: &ReviewLimits, notices: &mut Notices) {
    let text: Vec<String> = texts.iter().map(|text| finished(text)).collect();
    let counted = plain(&text.join(" "));
    let ease = counted.ease();
    if counted.words >= limits.graded_from_words && ease < limits.reading_ease {
        let message = format!(
            "{what} has a reading ease of {ease:.0}: {:.0} words a sentence, {:.1} syllables a word",
            counted.words as f64 / counted.sentences as f64,
            counted.syllables as f64 / counted.words as f64
        );
        let help = format!(
            "{:.0} or more is easy to read: shorter sentences, shorter words",
            limits.reading_ease
        );
        let notice = Notice::advice(codes::HARD_TO_READ, at, message);
        notices.push(notice.help(help));
    }
}

/// A text counted as it is read: what stands in braces becomes one or two words.
fn plain(text: &str) -> Readable {
    let filled = text
        .replace("{place}", "the place")
        .replace("{zone}", "the zone");
    Readable::of(&filled.replace(['{', '}'], ""))
}

/// A text as a sentence by itself.
fn finished(text: &str) -> String {
    if text.ends_with(['.', '!', '?', ':', ';']) {
        text.to_owned()
    } else {
        format!("{text}.")
    }
}
