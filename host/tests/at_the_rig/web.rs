//! The page's interface as a browser would use it, over a plain socket.

use std::io::{Read, Write};
use std::net::TcpStream;

use crate::program::Program;

/// A page that is being served: where, and the owner's token.
pub struct Page {
    pub host: String,
    pub token: String,
}

impl Page {
    /// Reads the link that the recorder prints.
    #[track_caller]
    pub fn of(program: &Program) -> Self {
        let link = program.wait_for_line("bench page: http://");
        let (host, token) = link.split_once("/#key=").unwrap();
        Self {
            host: host.to_owned(),
            token: token.to_owned(),
        }
    }

    /// Posts JSON; gives status and body.
    pub fn post(&self, path: &str, body: &serde_json::Value) -> (u16, serde_json::Value) {
        let origin = format!("http://{}", self.host);
        self.post_as(path, &self.host, &origin, &self.token, &body.to_string())
    }

    /// Posts with headers that may be forged.
    pub fn post_as(
        &self,
        path: &str,
        host: &str,
        origin: &str,
        token: &str,
        body: &str,
    ) -> (u16, serde_json::Value) {
        let request = format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: {origin}\r\nAuthorization: Bearer {token}\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        );
        self.ask(&request)
    }

    /// Gets a path.
    pub fn get(&self, path: &str) -> (u16, serde_json::Value) {
        let host = &self.host;
        self.ask(&format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
        ))
    }

    fn ask(&self, request: &str) -> (u16, serde_json::Value) {
        let mut stream = TcpStream::connect(&self.host).unwrap();
        stream
            .set_read_timeout(Some(crate::program::PATIENCE))
            .unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        let status = answer.split(' ').nth(1).unwrap().parse().unwrap();
        let body = answer.split_once("\r\n\r\n").map_or("", |(_, body)| body);
        (status, serde_json::from_str(body).unwrap_or_default())
    }
}
