//! Every scenario told as text, and its expectations met. The stories are snapshots: read each
//! difference before accepting it. Kind: trade facts, invented jobs.

use crate::program::told_here;

#[test]
fn scenarios_tell_their_story_and_end_as_expected() {
    insta::glob!("../../scenarios", "*.yaml", |path| {
        let (code, story, errors) = told_here(&["replay", &path.to_string_lossy()]);
        assert_eq!(errors, "");
        assert_eq!(code, 0, "{story}");
        assert!(
            story.lines().all(|line| line.chars().count() <= 80),
            "wider than 80 columns"
        );
        insta::assert_snapshot!(story);
    });
}
