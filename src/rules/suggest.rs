//! "Did you mean …?"

/// The known word closest to what was written, if it is close enough to be meant.
pub fn closest<'a>(written: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let known: Vec<&str> = known.collect();
    let scored = known
        .iter()
        .map(|word| (strsim::damerau_levenshtein(written, word), *word));
    let (distance, near) = scored.min_by_key(|(distance, _)| *distance)?;
    let length = written.chars().count().max(near.chars().count());
    let is_near = distance * 3 <= length.max(3) + 1;
    if is_near && distance <= 2 {
        return Some(near);
    }
    let whole = known.into_iter().find(|word| contains_whole(written, word));
    whole.or(is_near.then_some(near))
}

/// Whether one is the other with something before or after it (`pitted` for `pitted_port`).
fn contains_whole(written: &str, word: &str) -> bool {
    let (short, long) = if written.len() < word.len() {
        (written, word)
    } else {
        (word, written)
    };
    short.len() >= 3 && (long.starts_with(short) || long.ends_with(short))
}

/// Help for an unknown name: the closest one, else the whole list when it is short.
pub fn help_for(written: &str, known: &[&str]) -> Option<String> {
    if known.is_empty() {
        return Some("none has been declared".to_owned());
    }
    let near =
        closest(written, known.iter().copied()).map(|near| format!("did you mean `{near}`?"));
    let all = (known.len() <= 12).then(|| format!("known: {}", known.join(", ")));
    match (near, all) {
        (Some(near), Some(all)) => Some(format!("{near} ({all})")),
        (near, all) => near.or(all),
    }
}

#[cfg(test)]
mod tests {
    use super::closest;

    #[test]
    fn suggests_only_what_may_be_meant() {
        let known = ["minutes", "waiting", "pitted_port"];
        assert_eq!(closest("minuts", known.into_iter()), Some("minutes"));
        assert_eq!(closest("pitted", known.into_iter()), Some("pitted_port"));
        assert_eq!(
            closest("hose_emd", ["hose", "hose_end"].into_iter()),
            Some("hose_end")
        );
        assert_eq!(closest("zzz", known.into_iter()), None);
        assert_eq!(closest("x", std::iter::empty()), None);
    }
}
