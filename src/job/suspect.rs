//! Words for a hunch → what is suspected.
//!
//! In: `fault@place`, `@place`, an id, or loose wording ("head gasket", "pump seal"). Out: a
//! [`Suspect`], or what is unclear: several things that the words fit, or none.
//!
//! Loose wording fits a thing if each word begins a word of its name or id, a slip of one letter
//! allowed in longer words. Places go before faults, since a place stands for all faults there.

use thiserror::Error;

use crate::advise::Suspect;
use crate::graph::CausalGraph;
use crate::job::find::{find_cause, find_part, list};
use crate::job::problem::JobProblem;
use crate::rules::base::{Named, RuleBase};
use crate::rules::layout::Layout;
use crate::rules::suggest::closest;

/// Words from this length on may have one wrong letter.
const LONG: usize = 5;

/// Words that name no one thing.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Unclear {
    /// They fit several things.
    #[error("`{words}` fits {} things", .fits.len())]
    Several {
        /// What was typed.
        words: String,
        /// What it fits, in the order of the layout.
        fits: Vec<Suspect>,
    },
    /// They fit nothing on this vehicle.
    #[error("{0}")]
    Nothing(String),
    /// A name that is written exactly, and wrong.
    #[error("{0}")]
    Wrong(#[from] JobProblem),
}

/// What is suspected.
///
/// # Errors
/// Words that fit several things, or none.
pub fn find_suspect(
    rules: &RuleBase,
    layout: &Layout,
    graph: &CausalGraph,
    typed: &str,
) -> Result<Suspect, Unclear> {
    let typed = typed.trim();
    let all = Things {
        rules,
        layout,
        graph,
    };
    if let Some(place) = typed.strip_prefix('@') {
        return match find_part(layout, place) {
            Ok(part) => all.place(part),
            Err(problem) => match all.places(&words(place))[..] {
                [] => Err(problem.into()),
                [one] => Ok(one),
                ref several => Err(unclear(typed, several)),
            },
        };
    }
    if let Some((fault, place)) = typed.split_once('@') {
        let (fault, place) = (fault.trim(), place.trim());
        all.possible(fault)?;
        let exact = find_cause(rules, layout, graph, fault, Some(place));
        return match exact {
            Ok(cause) => Ok(Suspect::Cause(cause)),
            Err(problem) if find_part(layout, place).is_err() => Err(problem.into()),
            Err(problem) => {
                let mut fits = all.faults(&words(fault));
                fits.retain(|fit| Some(fit.part(graph)) == find_part(layout, place).ok());
                match fits[..] {
                    [one] => Ok(one),
                    [] => Err(problem.into()),
                    ref several => Err(unclear(typed, several)),
                }
            }
        };
    }
    // A place by its id, also with the words apart.
    let joined = words(typed).join("_");
    if let Ok(part) = find_part(layout, typed).or_else(|_| find_part(layout, &joined)) {
        return all.place(part);
    }
    let exact = all.exactly(typed);
    let fits = match exact[..] {
        [] => {
            all.possible(typed)?;
            all.loosely(&words(typed))
        }
        _ => exact,
    };
    match fits[..] {
        [] => Err(all.nothing_like(typed)),
        [one] => Ok(one),
        ref several => Err(unclear(typed, several)),
    }
}

fn unclear(typed: &str, fits: &[Suspect]) -> Unclear {
    Unclear::Several {
        words: typed.to_owned(),
        fits: fits.to_vec(),
    }
}

/// Everything on a vehicle that can be suspected.
struct Things<'a> {
    rules: &'a RuleBase,
    layout: &'a Layout,
    graph: &'a CausalGraph,
}

impl Things<'_> {
    fn place(&self, part: crate::ids::PartId) -> Result<Suspect, Unclear> {
        let has = self.graph.causes.iter().any(|of| of.place.part == part);
        if has && self.graph.leak_of[part].is_some() {
            return Ok(Suspect::Place(part));
        }
        let name = &self.layout.parts[part].named.name;
        let message = format!("the rules know no fault at {name} that could lose coolant");
        Err(Unclear::Nothing(message))
    }

    /// Causes whose fault has exactly this id or name.
    fn exactly(&self, typed: &str) -> Vec<Suspect> {
        let fits = |cause: &usize| {
            let fault = &self.rules.faults[self.graph.causes[*cause].place.fault];
            let full = format!(
                "{}.{}",
                self.rules.kinds[fault.kind].named.id, fault.named.id
            );
            fault.named.id == typed || full == typed || fault.named.name.eq_ignore_ascii_case(typed)
        };
        let causes = (0..self.graph.causes.len()).filter(fits);
        causes.map(Suspect::Cause).collect()
    }

    /// Refuses a fault that the rules know and this vehicle can't have.
    fn possible(&self, fault: &str) -> Result<(), Unclear> {
        let known = |named: &Named| named.id == fault || named.name.eq_ignore_ascii_case(fault);
        let of_rules = self
            .rules
            .faults
            .enumerated()
            .filter(|(_, of)| known(&of.named));
        let mut kinds: Vec<&str> = Vec::new();
        for (id, of) in of_rules {
            if self
                .graph
                .causes
                .iter()
                .any(|cause| cause.place.fault == id)
            {
                return Ok(());
            }
            kinds.push(&self.rules.kinds[of.kind].named.name);
        }
        if kinds.is_empty() {
            return Ok(());
        }
        Err(Unclear::Nothing(format!(
            "this vehicle ({}) cannot have `{fault}`: that is a fault of {}, which it lacks or has in another form",
            self.layout.named.name,
            list(&kinds)
        )))
    }

    fn loosely(&self, typed: &[String]) -> Vec<Suspect> {
        let places = self.places(typed);
        if places.is_empty() {
            self.faults(typed)
        } else {
            places
        }
    }

    /// Places that all words fit.
    fn places(&self, typed: &[String]) -> Vec<Suspect> {
        let parts = self.layout.parts.enumerated();
        let fits = parts.filter(|(id, part)| {
            let kind = &self.rules.kinds[part.kind].named;
            self.place(*id).is_ok() && fit(typed, &[&part.named, kind])
        });
        fits.map(|(id, _)| Suspect::Place(id)).collect()
    }

    /// Faults that all words fit, their place's name included.
    fn faults(&self, typed: &[String]) -> Vec<Suspect> {
        let fits = |cause: &usize| {
            let place = self.graph.causes[*cause].place;
            let (fault, part) = (
                &self.rules.faults[place.fault],
                &self.layout.parts[place.part],
            );
            fit(
                typed,
                &[
                    &fault.named,
                    &part.named,
                    &self.rules.kinds[part.kind].named,
                ],
            )
        };
        let causes = (0..self.graph.causes.len()).filter(fits);
        causes.map(Suspect::Cause).collect()
    }

    fn nothing_like(&self, typed: &str) -> Unclear {
        let parts = self.layout.parts.iter().map(|part| part.named.id.as_str());
        let mut known: Vec<&str> = parts.collect();
        for cause in &self.graph.causes {
            known.push(&self.rules.faults[cause.place.fault].named.id);
        }
        let written = words(typed).join("_");
        let help = closest(&written, known.into_iter()).map_or_else(
            || {
                format!(
                    "`seepwise layouts {}` lists the places",
                    self.layout.named.id
                )
            },
            |near| format!("did you mean `{near}`?"),
        );
        Unclear::Nothing(format!(
            "there is no place or fault like `{typed}` on this vehicle ({}); {help}",
            self.layout.named.name
        ))
    }
}

/// Lower-case words of what was typed or of a name.
fn words(text: &str) -> Vec<String> {
    let lower = text.to_lowercase();
    let split = lower.split(|c: char| !c.is_alphanumeric());
    split
        .filter(|word| !word.is_empty() && !["the", "a", "of", "at", "in"].contains(word))
        .map(str::to_owned)
        .collect()
}

/// Whether each typed word begins a word of the names, give or take a letter.
fn fit(typed: &[String], names: &[&Named]) -> bool {
    let known: Vec<String> = names
        .iter()
        .flat_map(|named| words(&named.id).into_iter().chain(words(&named.name)))
        .collect();
    !typed.is_empty()
        && typed.iter().all(|word| {
            known.iter().any(|of| {
                of.starts_with(word.as_str())
                    || word.chars().count() >= LONG && strsim::damerau_levenshtein(word, of) <= 1
            })
        })
}

#[cfg(test)]
mod tests {
    use super::{fit, words};
    use crate::rules::base::Named;

    #[test]
    fn loose_words_fit_names_and_slips_of_a_letter() {
        let gasket = Named {
            id: "gasket_in".to_owned(),
            name: "head gasket, inner side".to_owned(),
        };
        for typed in ["head gasket", "gaskets", "Head-Gaskt", "the gasket in head"] {
            assert!(fit(&words(typed), &[&gasket]), "{typed}");
        }
        for typed in ["pump", "", "gasket pump", "ea"] {
            assert!(!fit(&words(typed), &[&gasket]), "{typed}");
        }
    }
}
