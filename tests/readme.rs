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
