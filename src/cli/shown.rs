//! What the commands share: writing results, progress on stderr, findings as text.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Severity, Where};
use std::fs::File;
use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::Path;
use std::time::Instant;

/// Writes to the file, or to stdout where none is named.
pub fn write(to: Option<&Path>, bytes: &[u8]) -> Outcome<()> {
    write_by(to, |out| out.write_all(bytes))
}

/// The same of what is made as it is written.
pub fn write_by(to: Option<&Path>, make: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Outcome<()> {
    let whole = |out: &mut dyn Write| {
        let mut out = BufWriter::new(out);
        make(&mut out)?;
        out.flush()
    };
    match to {
        Some(path) => {
            let written = File::create(path).and_then(|mut file| whole(&mut file));
            written.map_err(|e| unwritable(path.display().to_string(), e))
        }
        None => match whole(&mut io::stdout()) {
            // The reader of a pipe may stop early (`| head`): that is its right.
            Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(unwritable("stdout".into(), e)),
            _ => Ok(()),
        },
    }
}

/// The text of a file that plan or zone wrote.
pub fn written(file: &Path) -> Outcome<String> {
    std::fs::read_to_string(file).map_err(|e| {
        let code = match e.kind() {
            io::ErrorKind::NotFound => Code::FileMissing,
            _ => Code::FileUnreadable,
        };
        let action = "give the GeoJSON that `tankerloop plan -o` or `tankerloop zone -o` wrote";
        Refusal::new(code, Where::file(file.display()), format!("it cannot be read ({e})"), action)
    })
}

/// The refusal where a result cannot be written.
pub fn unwritable(what: String, e: impl std::fmt::Display) -> Refusal {
    Refusal::new(
        Code::FileUnreadable,
        Where::file(what),
        format!("the result cannot be written ({e})"),
        "name a file in a folder that exists and can be written",
    )
}

/// A progress line on a terminal, for reading that takes longer than a moment.
pub fn reading(what: &Path) -> impl FnMut(u64, u64) + use<> {
    let name = what.display().to_string();
    let begin = Instant::now();
    let terminal = std::io::stderr().is_terminal();
    move |done, all| {
        if terminal && begin.elapsed().as_millis() > 500 {
            let end = if done >= all { "\n" } else { "" };
            eprint!("\rreading {name}: {:3} %{end}", done * 100 / all.max(1));
        }
    }
}

/// Findings as text lines, the grave ones first, alike ones counted after the first few.
pub fn findings_text(findings: &Findings, most_of_a_code: usize) -> String {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|f| std::cmp::Reverse(f.severity));
    let mut text = String::new();
    let mut seen: std::collections::BTreeMap<Code, usize> = std::collections::BTreeMap::new();
    for finding in sorted {
        let count = seen.entry(finding.code).or_default();
        *count += 1;
        if *count <= most_of_a_code {
            let label = match finding.severity {
                Severity::Error => "error",
                Severity::Caution => "caution",
                Severity::Note => "note",
            };
            text.push_str(&format!("{label}: {finding}\n"));
        }
    }
    for (code, count) in seen {
        if count > most_of_a_code {
            text.push_str(&format!("and {} more of [{}]\n", count - most_of_a_code, code.as_str()));
        }
    }
    text
}
