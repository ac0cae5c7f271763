//! Every code that a notice about rules or layouts can carry, with its meaning.
//!
//! Codes are stable: programs and people look things up by them.

macro_rules! codes {
    ($($constant:ident = $code:literal: $meaning:literal;)*) => {
        $(#[doc = $meaning] pub const $constant: &str = $code;)*
        /// All codes with their meanings, in the order of this page.
        pub const CODES: &[(&str, &str)] = &[$(($code, $meaning)),*];
    };
}

codes! {
    // Files.
    UNREADABLE = "unreadable": "the file cannot be read from disk";
    TOO_LARGE = "too-large": "the file is larger than 2 MiB, or too many files";
    NOT_UTF8 = "not-utf8": "the file is not UTF-8 text";
    CONTROL_CHARACTER = "control-character": "the file holds a control character";
    SYNTAX = "syntax": "the file is not well-formed YAML";
    TOO_DEEP = "too-deep": "maps and lists stand more than 24 deep in one another";
    YAML_EXTRA = "yaml-extra": "anchors, aliases, merge keys, tags and second documents are not part of the language";
    UNKNOWN_VERSION = "unknown-version": "the file does not start with a version that is understood";
    // Shape.
    WRONG_KIND = "wrong-kind": "a value is of the wrong kind: a map where a number belongs, and so on";
    NOT_A_NUMBER = "not-a-number": "NaN and infinity are no numbers here";
    UNKNOWN_KEY = "unknown-key": "this key means nothing here";
    MISSING_KEY = "missing-key": "a key that must be there is not";
    EMPTY_TEXT = "empty-text": "a text or a list of steps is empty";
    BAD_NAME = "bad-name": "an id must be small letters, digits and underscores, starting with a letter";
    // Names.
    DUPLICATE_NAME = "duplicate-name": "a name or key is given twice";
    UNKNOWN_NAME = "unknown-name": "no such name has been declared";
    DECLARED_TWICE = "declared-twice": "a part of the language that belongs in one file stands in two";
    WRONG_OWNER = "wrong-owner": "an attribute of parts where only the vehicle counts, or the other way round";
    WRONG_VALUE = "wrong-value": "a value that the attribute does not permit";
    CYCLE = "cycle": "things that raise, or run down to, each other in a circle";
    // Numbers.
    OUT_OF_RANGE = "out-of-range": "a number outside what it may be";
    CERTAIN_SIGN = "certain-sign": "a strength of 0 or 100 on a sign";
    NO_FALSE_ALARM = "no-false-alarm": "an answer without a false-alarm rate";
    ADDS_UP = "adds-up": "chances that add up to 100 or more";
    NORMAL_ANSWER = "normal-answer": "the normal answer or level is given a strength";
    // Reasons.
    UNKNOWN_SOURCE = "unknown-source": "a source that is none of the four kinds";
    // Checks.
    WRONG_STATES = "wrong-states": "`shows` where `by_level` belongs, or the other way round";
    BAD_CHOICES = "bad-choices": "choices that are not worst first, each showing an answer, the last showing none";
    BAD_SWEEP = "bad-sweep": "a sweep of a check that cannot be swept";
    NOT_HERE = "not-here": "a reading that the check cannot make where it is done";
    CONTRADICTION = "contradiction": "a check needs a set-up that its occasion excludes";
    NO_MINUTES = "no-minutes": "a check does not say how long it takes";
    // Safety.
    NO_CAUTION = "no-caution": "a hazardous set-up or check without a caution";
    NO_BLOCK = "no-block": "a check needs a set-up that some block must be able to forbid, and none does";
    FORBIDDEN_SET_UP = "forbidden-set-up": "a set-up that is among those that must never be";
    UNREACHABLE = "unreachable": "no way leads to the set-up";
    UNSAFE_LIMIT = "unsafe-limit": "a limit of the test pressure that is not positive or over 60 psi";
    // The whole.
    NOTHING_SHOWS = "nothing-shows": "a fault that no sign can show";
    UNUSED_CHECK = "unused-check": "a check that no layout can use";
    UNUSED_KIND = "unused-kind": "a kind of part that no layout has";
    IMPOSSIBLE_FAULT = "impossible-fault": "a fault that is possible on no layout";
    // Advice of a review.
    HOW_TO_TOO_LONG = "how-to-too-long": "a step, or a whole how-to, too long to keep in mind in a bay";
    HARD_TO_READ = "hard-to-read": "a text whose reading ease is low";
    CAUTION_MISSING = "caution-missing": "tools or words that call for a caution which is not given";
    STAYS_DRY = "stays-dry": "a look at a place that leaks into something else";
    CANNOT_ARISE = "cannot-arise": "a fault that cannot arise on a layout though it has the kind of part";
    NOT_WORTH_ASKING = "not-worth-asking": "a check that tells too little, or that another outdoes";
    NOTHING_SEPARATES = "nothing-separates": "two causes that no check tells apart";
    SHARE_OUT_OF_LINE = "share-out-of-line": "base rates that imply another share than the stated one";
    NOT_WORKED_OUT = "not-worked-out": "a layout that a review could not work out to the end";
    // Layouts.
    NO_ELSEWHERE = "no-elsewhere": "a layout without exactly one part of the kind `elsewhere`";
    NO_TESTER = "no-tester": "a layout without a part that is listed apart";
    UPHILL = "uphill": "wetness that would run uphill";
}
