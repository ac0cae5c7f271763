//! Every scenario told as text, and its expectations met. The stories are snapshots: read each
//! difference before accepting it. Kind: trade facts, invented jobs.

use seepwise::cli::{Surroundings, run};

#[test]
fn scenarios_tell_their_story_and_end_as_expected() {
    insta::glob!("../../scenarios", "*.yaml", |path| {
        let surroundings = Surroundings {
            width: 80,
            colour: false,
            typing: false,
            shop: None,
        };
        let (mut out, mut errors) = (Vec::new(), Vec::new());
        let args = [
            "seepwise".into(),
            "replay".into(),
            path.as_os_str().to_owned(),
        ];
        let code = run(
            args,
            &mut std::io::empty(),
            &mut out,
            &mut errors,
            &surroundings,
        );
        let story = String::from_utf8(out).unwrap();
        assert_eq!(String::from_utf8(errors).unwrap(), "");
        assert_eq!(code, 0, "{story}");
        assert!(
            story.lines().all(|line| line.chars().count() <= 80),
            "wider than 80 columns"
        );
        insta::assert_snapshot!(story);
    });
}
