//! Running the program: what it is told, what it gives, and when it is ended.

use std::ffi::OsString;
use std::io::{self, ErrorKind, Read};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use super::listing::Stream;

/// So long it may give nothing.
const PATIENCE: Duration = Duration::from_secs(60);

/// What it says is kept up to here; the rest is read and forgotten.
const MAX_WORDS_BYTES: usize = 256 << 10;

/// Bytes taken from the pipe at once, and how many of these wait for the meter.
const CHUNK_BYTES: usize = 64 << 10;
const CHUNKS_WAITING: usize = 8;

/// Characters of what it says that are handed on.
const MOST_CHARACTERS: usize = 200;

/// The readers of containers that it may use: none that opens another file, such as a playlist.
const READERS: &str = "aac,ac3,aiff,amr,ape,asf,au,avi,caf,dsf,dts,dtshd,eac3,flac,flv,iff,loas,\
    matroska,webm,mlp,mov,mp4,m4a,3gp,3g2,mj2,mp3,mpc,mpc8,mpeg,mpegts,mxf,ogg,oma,rm,spdif,tak,\
    truehd,tta,w64,wav,wv,xwma";

/// Its arguments up to the file.
fn command(program: &Path, file: &Path, before: &[&str]) -> io::Result<Command> {
    let mut address = OsString::from("file:");
    address.push(std::path::absolute(file)?);
    let mut command = Command::new(program);
    command
        .args(["-nostdin", "-protocol_whitelist", "file,pipe", "-format_whitelist", READERS])
        .args(before)
        .arg("-i")
        .arg(address)
        // These would have it write files or colours of its own.
        .env_remove("FFREPORT")
        .env("AV_LOG_FORCE_NOCOLOR", "1")
        .stdin(Stdio::null())
        .stderr(Stdio::piped());
    Ok(command)
}

/// What it says of a file.
///
/// # Errors
///
/// When it cannot be run, or says nothing for a minute.
pub(super) fn list(program: &Path, file: &Path) -> io::Result<String> {
    let mut child = Guard(command(program, file, &[])?.stdout(Stdio::null()).spawn()?);
    let (send, told) = sync_channel(1);
    let stderr = child.0.stderr.take();
    thread::spawn(move || send.send(stderr.map_or_else(Vec::new, words)));
    let told = told.recv_timeout(PATIENCE).map_err(|_| stalled())?;
    child.0.wait()?;
    Ok(String::from_utf8_lossy(&told).into_owned())
}

/// Ends the program when nobody waits for it any more.
struct Guard(Child);

impl Drop for Guard {
    fn drop(&mut self) {
        // It may be at its end already.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Reads to the end and keeps the start.
fn words(mut from: impl Read) -> Vec<u8> {
    let mut kept = Vec::new();
    // What cannot be read any more is the end.
    let _ = (&mut from).take(MAX_WORDS_BYTES as u64).read_to_end(&mut kept);
    let _ = io::copy(&mut from, &mut io::sink());
    kept
}

fn stalled() -> io::Error {
    io::Error::new(ErrorKind::TimedOut, "it gave nothing for a minute")
}

/// The sound as it comes out of the program.
pub(super) struct Run {
    child: Guard,
    /// Never locked: readers of sound may be shared between threads, and a channel alone may not.
    chunks: Mutex<Receiver<io::Result<Vec<u8>>>>,
    /// Ends when the program has said everything.
    listener: Option<JoinHandle<()>>,
    chunk: Vec<u8>,
    read: usize,
    passed_bytes: u64,
    report: Report,
}

/// What is known of a run besides its sound.
#[derive(Debug, Clone, Default)]
pub(in crate::audio) struct Report(Arc<Mutex<State>>);

#[derive(Debug, Default)]
struct State {
    words: Vec<u8>,
    failed: bool,
    limit_bytes: Option<u64>,
}

impl Run {
    /// Starts to decode a stream, as 64-bit floats in a WAVE file of unknown length.
    ///
    /// # Errors
    ///
    /// When it cannot be run.
    pub(super) fn start(
        program: &Path,
        file: &Path,
        stream: &Stream,
    ) -> io::Result<(Self, Report)> {
        let dynamics: &[&str] = if stream.has_dynamics() { &["-drc_scale", "0"] } else { &[] };
        let before = [&["-v", "error"], dynamics].concat();
        let chosen = format!("0:a:{}", stream.index());
        let mut child = command(program, file, &before)?
            .args(["-map", &chosen, "-map_metadata", "-1", "-fflags", "+bitexact"])
            .args(["-c:a", "pcm_f64le", "-f", "wav", "pipe:1"])
            .stdout(Stdio::piped())
            .spawn()?;
        let report = Report::default();
        let (send, chunks) = sync_channel(CHUNKS_WAITING);
        if let Some(mut sound) = child.stdout.take() {
            thread::spawn(move || {
                loop {
                    let mut chunk = vec![0; CHUNK_BYTES];
                    let result = sound.read(&mut chunk);
                    let last = !matches!(result, Ok(1..));
                    let sent = send.send(result.map(|count| {
                        chunk.truncate(count);
                        chunk
                    }));
                    if last || sent.is_err() {
                        return;
                    }
                }
            });
        }
        let listener = child.stderr.take().map(|stderr| {
            let report = report.clone();
            thread::spawn(move || {
                let words = words(stderr);
                report.state(|state| state.words = words);
            })
        });
        let run = Self {
            child: Guard(child),
            chunks: Mutex::new(chunks),
            listener,
            chunk: Vec::new(),
            read: 0,
            passed_bytes: 0,
            report: report.clone(),
        };
        Ok((run, report))
    }

    /// The next chunk; an empty one at the end.
    fn next_chunk(&mut self) -> io::Result<Vec<u8>> {
        let chunks = self.chunks.get_mut().unwrap_or_else(PoisonError::into_inner);
        match chunks.recv_timeout(PATIENCE) {
            Ok(chunk) => chunk,
            Err(RecvTimeoutError::Timeout) => Err(stalled()),
            Err(RecvTimeoutError::Disconnected) => Ok(Vec::new()),
        }
    }
}

impl Read for Run {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.read == self.chunk.len() {
            self.chunk = self.next_chunk()?;
            self.read = 0;
            self.passed_bytes += self.chunk.len() as u64;
            if self.report.state(|state| state.limit_bytes).is_some_and(|at| self.passed_bytes > at)
            {
                let what = "it gives more sound than a file of this size can hold";
                return Err(io::Error::new(ErrorKind::InvalidData, what));
            }
            if self.chunk.is_empty() {
                let failed = !self.child.0.wait()?.success();
                // It only reads and cannot panic.
                let _ = self.listener.take().map(JoinHandle::join);
                self.report.state(|state| state.failed = failed);
            }
        }
        let count = (&self.chunk[self.read..]).read(buffer)?;
        self.read += count;
        Ok(count)
    }
}

impl Report {
    fn state<T>(&self, with: impl FnOnce(&mut State) -> T) -> T {
        with(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// From here on no more than so many bytes are taken.
    pub(super) fn limit(&self, bytes: u64) {
        self.state(|state| state.limit_bytes = Some(bytes));
    }

    /// The first of what it said.
    pub(super) fn first_words(&self) -> String {
        let words = self.state(|state| String::from_utf8_lossy(&state.words).into_owned());
        first_line(&words).unwrap_or_else(|| "it gives no sound".to_owned())
    }

    /// A sentence on what went wrong, once the end was reached.
    pub(in crate::audio) fn warning(&self) -> Option<String> {
        let (words, failed) =
            self.state(|state| (String::from_utf8_lossy(&state.words).into_owned(), state.failed));
        let line = first_line(&words);
        match (failed, line) {
            (false, None) => None,
            (false, Some(line)) => Some(format!("ffmpeg, which decoded it, says: {line}")),
            (true, line) => {
                let why = line.unwrap_or_else(|| "it does not say why".to_owned());
                Some(format!("ffmpeg, which decoded it, ended before the file did: {why}"))
            }
        }
    }
}

/// The first line that says something, without the place in the program's memory before it.
fn first_line(words: &str) -> Option<String> {
    let line = words.lines().map(str::trim).find(|line| !line.is_empty())?;
    let line = match line.split_once("] ") {
        Some((place, rest)) if place.starts_with('[') && place.contains(" @ ") => rest,
        _ => line,
    };
    let clean = line.chars().filter(|letter| !letter.is_control()).take(MOST_CHARACTERS);
    Some(clean.collect())
}
