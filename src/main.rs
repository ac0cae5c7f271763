//! The command `seepwise`: hands over to `seepwise::cli`.

use std::io::{IsTerminal, Write};
use std::process::ExitCode;

use seepwise::cli::{Surroundings, run};

fn main() -> ExitCode {
    let stdout = std::io::stdout();
    let terminal = stdout.is_terminal();
    let no_colour = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    let surroundings = Surroundings {
        width: terminal_size::terminal_size()
            .map_or(80, |(width, _)| usize::from(width.0))
            .min(100),
        colour: terminal && !no_colour && !dumb,
        typing: std::io::stdin().is_terminal(),
        shop: seepwise::cli::shop_file(|name| std::env::var_os(name)),
    };
    let code = run(
        std::env::args_os(),
        &mut std::io::stdin().lock(),
        &mut stdout.lock(),
        // Not locked: a progress bar draws there from other threads.
        &mut std::io::stderr(),
        &surroundings,
    );
    // A closed pipe is no error: the reader has seen enough.
    let _ = std::io::stdout().flush();
    ExitCode::from(code)
}
