//! A page onto paper as PDF, by a browser that is there: the print style is the page's own, so there is one layout.

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::replace::replace;
use std::ffi::OsString;
use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Names under which browsers that print without a window are installed.
const BROWSERS: [&str; 11] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "microsoft-edge-stable",
    "msedge",
    "brave-browser",
    "brave",
    "vivaldi",
];
const PATIENCE: Duration = Duration::from_secs(90);
const POLL: Duration = Duration::from_millis(50);

/// The browser named, else the first on the PATH.
///
/// Errors: there is none.
pub fn browser(named: Option<&Path>) -> Outcome<PathBuf> {
    let refuse = |place: Where, cause: &str| {
        let action = "write -o FILE.html, open it in any browser and print it, or name a browser of the Chromium family \
                      with --browser PATH";
        Err(Refusal::new(Code::FileMissing, place, cause, action))
    };
    if let Some(path) = named {
        return match path.is_file() || on_path(&path.as_os_str().to_owned()).is_some() {
            true => Ok(path.to_owned()),
            false => refuse(Where::file(path.display()), "there is no such browser to print with"),
        };
    }
    match BROWSERS.iter().find_map(|name| on_path(&OsString::from(name))) {
        Some(path) => Ok(path),
        None => {
            refuse(Where::default().named("PDF"), "no browser that prints without a window is on the PATH")
        }
    }
}

fn on_path(name: &OsString) -> Option<PathBuf> {
    let folders = std::env::var_os("PATH")?;
    let with_ending = |folder: &Path| {
        let mut file = folder.join(name).into_os_string();
        file.push(std::env::consts::EXE_SUFFIX);
        PathBuf::from(file)
    };
    std::env::split_paths(&folders).map(|folder| with_ending(&folder)).find(|file| file.is_file())
}

/// Prints a page to a file, which appears when it is complete.
///
/// Errors: the browser does not start, takes too long or writes nothing; the file cannot be written.
pub fn pdf(html: &str, browser: &Path, to: &Path) -> Outcome<()> {
    let failed = |cause: String| {
        let action = "open the HTML (-o FILE.html) in a browser and print it";
        Refusal::new(Code::FileUnreadable, Where::file(browser.display()), cause, action)
    };
    let made = replace(to, |fresh| -> io::Result<()> {
        // Beside the result: a browser may be confined to folders of its user, and see no other.
        let folder = Workplace::beside(to)?;
        let page = folder.0.join("sheet.html");
        std::fs::write(&page, html)?;
        let mut printed = fresh.to_owned();
        if !printed.is_absolute() {
            printed = std::env::current_dir()?.join(printed);
        }
        run(browser, &folder.0, &page, &printed)?;
        match std::fs::read(&printed) {
            Ok(bytes) if bytes.starts_with(b"%PDF-") => Ok(()),
            _ => Err(io::Error::other(format!("it wrote no PDF{}", last_words(&folder.0)))),
        }
    });
    made.map_err(|e| failed(format!("it did not print ({e})")))
}

/// A folder for the browser, gone with its end.
struct Workplace(PathBuf);

impl Workplace {
    fn beside(file: &Path) -> io::Result<Workplace> {
        let mut name = file.as_os_str().to_owned();
        name.push(format!(".{}.print", std::process::id()));
        let folder = PathBuf::from(name);
        std::fs::create_dir(&folder)?;
        Ok(Workplace(folder.canonicalize()?))
    }
}

impl Drop for Workplace {
    fn drop(&mut self) {
        // A helper of the browser may still be writing into its profile.
        for _ in 0..20 {
            match std::fs::remove_dir_all(&self.0) {
                Err(e) if e.kind() != io::ErrorKind::NotFound => std::thread::sleep(POLL),
                _ => return,
            }
        }
    }
}

fn run(browser: &Path, folder: &Path, page: &Path, printed: &Path) -> io::Result<()> {
    let option = |name: &str, value: &Path| {
        let mut text = OsString::from(name);
        text.push(value);
        text
    };
    let mut command = Command::new(browser);
    command.args(["--headless", "--disable-gpu", "--no-first-run", "--disable-extensions", "--disable-sync"]);
    command.args(["--disable-background-networking", "--no-pdf-header-footer", "--print-to-pdf-no-header"]);
    command.arg(option("--user-data-dir=", &folder.join("profile")));
    command.arg(option("--print-to-pdf=", printed));
    if as_root() {
        // It refuses to start as root otherwise; the page is our own and holds no script.
        command.arg("--no-sandbox");
    }
    command.arg(address(page));
    let said = File::create(folder.join("said"))?;
    command.stdin(Stdio::null()).stdout(said.try_clone()?).stderr(said);
    let mut child = command.spawn()?;
    let begin = Instant::now();
    loop {
        if let Some(status) = child.try_wait()? {
            return match status.success() {
                true => Ok(()),
                false => Err(io::Error::other(format!("{status}{}", last_words(folder)))),
            };
        }
        if begin.elapsed() > PATIENCE {
            child.kill()?;
            child.wait()?;
            return Err(io::Error::other(format!("it took more than {} s", PATIENCE.as_secs())));
        }
        std::thread::sleep(POLL);
    }
}

fn last_words(folder: &Path) -> String {
    let said = std::fs::read(folder.join("said")).unwrap_or_default();
    let said = String::from_utf8_lossy(&said).into_owned();
    said.lines()
        .rev()
        .find(|line| !line.trim().is_empty())
        .map_or(String::new(), |line| format!(": {}", line.chars().take(300).collect::<String>()))
}

fn as_root() -> bool {
    #[cfg(target_os = "linux")]
    {
        use std::os::unix::fs::MetadataExt;
        std::fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0)
    }
    #[cfg(not(target_os = "linux"))]
    false
}

/// A file's path as an address (RFC 8089), all but the plainest characters as their bytes.
fn address(path: &Path) -> String {
    let mut text = String::from("file://");
    let path = path.to_string_lossy().replace('\\', "/");
    if !path.starts_with('/') {
        text.push('/');
    }
    for byte in path.bytes() {
        match byte {
            b'/' | b':' | b'-' | b'_' | b'.' | b'~' => text.push(byte as char),
            byte if byte.is_ascii_alphanumeric() => text.push(byte as char),
            byte => text.push_str(&format!("%{byte:02X}")),
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_becomes_an_address() {
        assert_eq!(address(Path::new("/a b/ü#?.html")), "file:///a%20b/%C3%BC%23%3F.html");
    }
}
