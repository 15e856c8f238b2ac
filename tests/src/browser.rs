//! A headless Chromium for the tests of pages, driven over a pair of pipes by its own debugging
//! protocol: JSON messages, each ended by a zero byte.

mod process;

use std::collections::VecDeque;
use std::path::Path;

use serde_json::{Value, json};

use process::Process;

/// How a page is looked at.
#[derive(Debug, Clone, Copy)]
pub struct Look {
    /// Width of the window, in CSS pixels.
    pub width: u32,
    /// Whether the reader prefers dark colours.
    pub dark: bool,
    /// Whether the page is laid out for paper.
    pub print: bool,
}

/// A page that is open in a browser of its own.
pub struct Page {
    process: Process,
    session: String,
    next: u64,
    events: VecDeque<Value>,
}

impl Page {
    /// Opens a file with everything it does being recorded. Panics where the browser cannot be
    /// started or does not answer: then nothing can be tested.
    #[must_use]
    pub fn open(file: &Path, look: Look) -> Self {
        let process = Process::start();
        let mut page = Self { process, session: String::new(), next: 0, events: VecDeque::new() };
        let target = page.call("Target.createTarget", json!({ "url": "about:blank" }));
        let attach = json!({ "targetId": target["targetId"], "flatten": true });
        let attached = page.call("Target.attachToTarget", attach);
        page.session = attached["sessionId"].as_str().expect("a session").to_owned();
        for domain in ["Page", "Runtime", "Log", "Network"] {
            page.call(&format!("{domain}.enable"), json!({}));
        }
        page.look(look);
        let url = format!("file://{}", file.canonicalize().expect("the page is there").display());
        page.call("Page.navigate", json!({ "url": url }));
        page.wait("Page.loadEventFired");
        page
    }

    /// Changes how the page is looked at.
    pub fn look(&mut self, look: Look) {
        let scheme = if look.dark { "dark" } else { "light" };
        self.call(
            "Emulation.setEmulatedMedia",
            json!({
                "media": if look.print { "print" } else { "screen" },
                "features": [{ "name": "prefers-color-scheme", "value": scheme }],
            }),
        );
        self.call(
            "Emulation.setDeviceMetricsOverride",
            json!({ "width": look.width, "height": 900, "deviceScaleFactor": 1, "mobile": false }),
        );
        self.settle();
    }

    /// What an expression of the page gives, as plain data.
    pub fn evaluate(&mut self, expression: &str) -> Value {
        let ask = json!({ "expression": expression, "returnByValue": true, "awaitPromise": true });
        let answer = self.call("Runtime.evaluate", ask);
        assert!(answer.get("exceptionDetails").is_none(), "{expression}: {answer}");
        answer["result"]["value"].clone()
    }

    /// A picture of the whole page as PNG.
    pub fn picture(&mut self) -> Vec<u8> {
        let size = self.call("Page.getLayoutMetrics", json!({}))["cssContentSize"].clone();
        let (width, height) = (&size["width"], &size["height"]);
        let clip = json!({ "x": 0, "y": 0, "width": width, "height": height, "scale": 1 });
        let answer = self.call(
            "Page.captureScreenshot",
            json!({ "format": "png", "captureBeyondViewport": true, "clip": clip }),
        );
        decoded(&answer["data"])
    }

    /// The page as printed on A4 with its backgrounds, as PDF, for a reader who prefers dark screens.
    pub fn printed(&mut self) -> Vec<u8> {
        let dark = [json!({ "name": "prefers-color-scheme", "value": "dark" })];
        self.call("Emulation.setEmulatedMedia", json!({ "media": "print", "features": dark }));
        let answer = self.call(
            "Page.printToPDF",
            json!({ "printBackground": true, "preferCSSPageSize": true,
                "paperWidth": 8.27, "paperHeight": 11.69 }),
        );
        decoded(&answer["data"])
    }

    /// Everything the page complained about so far: console, exceptions, violations.
    pub fn complaints(&mut self) -> Vec<String> {
        self.settle();
        let complains = |event: &Value| match event["method"].as_str() {
            Some("Runtime.consoleAPICalled" | "Runtime.exceptionThrown" | "Log.entryAdded") => {
                Some(event["params"].to_string())
            }
            _ => None,
        };
        self.events.iter().filter_map(complains).collect()
    }

    /// Every address the page asked for so far, its own first.
    pub fn requests(&mut self) -> Vec<String> {
        self.settle();
        let asks = |event: &Value| match event["method"].as_str() {
            Some("Network.requestWillBeSent") => {
                event["params"]["request"]["url"].as_str().map(str::to_owned)
            }
            _ => None,
        };
        self.events.iter().filter_map(asks).collect()
    }

    /// Lets whatever the page set going arrive: two frames drawn, and the events before them read.
    fn settle(&mut self) {
        self.evaluate(
            "new Promise(done => \
             requestAnimationFrame(() => requestAnimationFrame(() => done(1))))",
        );
    }

    fn call(&mut self, method: &str, params: Value) -> Value {
        self.next += 1;
        let mut message = json!({ "id": self.next, "method": method, "params": params });
        if !self.session.is_empty() {
            message["sessionId"] = json!(self.session);
        }
        self.process.send(&message);
        loop {
            let answer = self.process.receive();
            if answer["id"] == json!(self.next) {
                assert!(answer.get("error").is_none(), "{method}: {answer}");
                return answer["result"].clone();
            }
            self.events.push_back(answer);
        }
    }

    fn wait(&mut self, method: &str) {
        while !self.events.iter().any(|event| event["method"] == json!(method)) {
            let event = self.process.receive();
            self.events.push_back(event);
        }
    }
}

fn decoded(data: &Value) -> Vec<u8> {
    use base64::Engine;
    let text = data.as_str().expect("data");
    base64::engine::general_purpose::STANDARD.decode(text).expect("base64")
}
