//! What the README shows is what the program prints.

#[path = "support/run.rs"]
mod run;

use run::{folder, repository, tankerloop};

/// Contents of the README's fenced blocks of a kind, in order.
fn blocks(kind: &str) -> Vec<String> {
    let text = std::fs::read_to_string(repository("README.md")).unwrap();
    let fence = format!("```{kind}\n");
    text.split(&fence).skip(1).filter_map(|rest| Some(rest.split_once("```")?.0.to_string())).collect()
}

#[test]
fn the_first_block_holds_the_two_commands() {
    assert_eq!(blocks("sh")[0], "cargo run --release -- demo out/\ncargo test\n");
}

#[test]
fn the_demo_prints_what_the_readme_shows() {
    let ran = tankerloop(&["demo", folder("readme").to_str().unwrap()]);
    assert_eq!(ran.code, 0);
    assert!(ran.err.starts_with(&blocks("text")[0]), "README.md is out of date:\n{}", ran.err);
}

/// Trailing blanks of the drawing are not in the README.
#[test]
fn the_rig_prints_what_the_readme_shows() {
    let text = std::fs::read_to_string(repository("README.md")).unwrap();
    let command =
        text.split("`tankerloop rig --pump").nth(1).and_then(|rest| rest.split('`').next()).unwrap();
    let args: Vec<&str> = ["rig", "--pump"].into_iter().chain(command.split_whitespace()).collect();
    let ran = tankerloop(&args);
    assert_eq!(ran.code, 1, "750 gpm takes another siphon");
    let printed: String = ran.text().lines().map(|line| format!("{}\n", line.trim_end())).collect();
    let shown = blocks("text");
    assert!(printed.starts_with(&shown[1]), "README.md is out of date:\n{printed}");
    assert!(printed.contains(&shown[2]), "README.md is out of date:\n{printed}");
}
