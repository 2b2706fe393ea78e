//! A running `tankerloop serve`, asked over real HTTP.

#![allow(dead_code)]

use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

pub struct Live {
    child: Child,
    pub port: u16,
}

impl Live {
    /// On a free port.
    pub fn start(scenario: &Path, more: &[&str]) -> Live {
        let mut child = Command::new(env!("CARGO_BIN_EXE_tankerloop"))
            .args(["serve", scenario.to_str().expect("test paths are text"), "--port", "0"])
            .args(more)
            .stderr(Stdio::piped())
            .spawn()
            .expect("the binary runs");
        let mut told = String::new();
        let mut lines = BufReader::new(child.stderr.take().expect("stderr is piped"));
        let port = loop {
            let mut line = String::new();
            if lines.read_line(&mut line).expect("stderr is text") == 0 {
                panic!("serve ended: {told}");
            }
            told.push_str(&line);
            let address = line.strip_prefix("http://").and_then(|rest| rest.split('/').next());
            if let Some(port) = address.and_then(|a| a.rsplit(':').next()).and_then(|p| p.parse().ok()) {
                break port;
            }
        };
        // The rest is not waited for, and the pipe stays open.
        std::thread::spawn(move || lines.read_to_string(&mut String::new()));
        Live { child, port }
    }

    pub fn url(&self, path: &str) -> String {
        format!("http://127.0.0.1:{}{path}", self.port)
    }

    pub fn get(&self, path: &str) -> minreq::Response {
        minreq::get(self.url(path)).with_timeout(120).send().expect("the server answers")
    }

    pub fn post(&self, path: &str, body: &Value) -> minreq::Response {
        minreq::post(self.url(path))
            .with_header("Content-Type", "application/json")
            .with_body(body.to_string())
            .with_timeout(120)
            .send()
            .expect("the server answers")
    }

    /// A connection on which the request has been sent as it is.
    pub fn raw(&self, request: &str) -> TcpStream {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).expect("the server is there");
        stream.write_all(request.as_bytes()).expect("the request goes out");
        stream
    }

    /// Status and all the rest of an answer to a request sent as it is, which must ask to close.
    pub fn ask(&self, request: &str) -> (u16, String) {
        let mut text = Vec::new();
        // A server that has refused may cut the connection while the rest is being sent.
        let _ = self.raw(request).read_to_end(&mut text);
        let text = String::from_utf8_lossy(&text).into_owned();
        let status = text.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
        (status, text)
    }

    /// A plan asked for as a stream; the lines as they come.
    pub fn stream(&self, body: &Value) -> BufReader<TcpStream> {
        let body = body.to_string();
        let stream = self.raw(&format!(
            "POST /api/plan HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nAccept: application/x-ndjson\r\nContent-Type: \
             application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
            self.port,
            body.len()
        ));
        BufReader::new(stream)
    }

    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// The exit code once it has ended.
    pub fn wait(mut self) -> Option<i32> {
        self.child.wait().expect("the child can be waited for").code()
    }
}

impl Drop for Live {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

pub fn json(response: &minreq::Response) -> Value {
    serde_json::from_slice(response.as_bytes()).expect("the answer is JSON")
}

pub fn header<'r>(response: &'r minreq::Response, name: &str) -> &'r str {
    let named = response.headers.iter().find(|(key, _)| key.eq_ignore_ascii_case(name));
    named.map_or("", |(_, value)| value)
}

/// The JSON lines of a chunked stream, without the frames around them.
pub fn events(mut stream: BufReader<TcpStream>) -> Vec<String> {
    let mut text = String::new();
    stream.read_to_string(&mut text).expect("the stream is text");
    let (head, mut rest) = text.split_once("\r\n\r\n").expect("a head and a body");
    assert!(head.starts_with("HTTP/1.1 200"), "{head}");
    let mut body = String::new();
    while let Some((size, after)) = rest.split_once("\r\n") {
        let size = usize::from_str_radix(size, 16).expect("the size of a chunk");
        body.push_str(&after[..size]);
        rest = after[size..].trim_start_matches("\r\n");
    }
    body.lines().map(str::to_string).collect()
}
