//! A word typed at a question → the answer it stands for.
//!
//! In: the answers that can be typed there, and what was typed. Out: the answer's position, if the
//! word is one answer's name, its number, or a beginning that fits one answer only.

/// What a word stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Picked {
    /// This answer.
    One(usize),
    /// A beginning of these.
    Several(Vec<usize>),
    /// None of them.
    Nothing,
}

/// Picks among answers, each an id with what it looks like. A whole name goes before a number, a
/// number before a beginning, an id before its text.
pub(super) fn pick(answers: &[(String, String)], typed: &str) -> Picked {
    let typed = plain(typed);
    if typed.is_empty() {
        return Picked::Nothing;
    }
    let whole = answers
        .iter()
        .position(|(id, text)| plain(id) == typed || plain(text) == typed);
    if let Some(at) = whole {
        return Picked::One(at);
    }
    if let Ok(number) = typed.parse::<usize>() {
        return match number.checked_sub(1) {
            Some(at) if at < answers.len() => Picked::One(at),
            _ => Picked::Nothing,
        };
    }
    let begun = |name: fn(&(String, String)) -> &String| -> Vec<usize> {
        let fits = |at: &usize| plain(name(&answers[*at])).starts_with(&typed);
        (0..answers.len()).filter(fits).collect()
    };
    let mut fitting = begun(|answer| &answer.0);
    if fitting.is_empty() {
        fitting = begun(|answer| &answer.1);
    }
    match fitting[..] {
        [] => Picked::Nothing,
        [one] => Picked::One(one),
        _ => Picked::Several(fitting),
    }
}

/// Several names as an offer: "a, b or c".
pub(super) fn one_of(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [rest @ .., last] => format!("{} or {last}", rest.join(", ")),
    }
}

fn plain(name: &str) -> String {
    name.trim().to_lowercase().replace('_', " ")
}

#[cfg(test)]
mod tests {
    use super::{Picked, pick};

    #[test]
    fn names_numbers_and_beginnings_are_told_apart() {
        let of = |id: &str, text: &str| (id.to_owned(), text.to_owned());
        let answers = [
            of("only_in_use", "only when it is used"),
            of("also_standing", "it falls while it stands"),
            of("seldom", "hardly ever"),
            of("seldom_now", "less than it did"),
        ];
        assert_eq!(pick(&answers, "also"), Picked::One(1));
        assert_eq!(pick(&answers, "Only in use"), Picked::One(0));
        assert_eq!(pick(&answers, "2"), Picked::One(1));
        assert_eq!(pick(&answers, "it falls"), Picked::One(1));
        assert_eq!(pick(&answers, "seldom"), Picked::One(2));
        assert_eq!(pick(&answers, "s"), Picked::Several(vec![2, 3]));
        for wrong in ["0", "5", "nonsense", " "] {
            assert_eq!(pick(&answers, wrong), Picked::Nothing, "{wrong}");
        }
    }
}
