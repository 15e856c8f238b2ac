//! What measuring costs: against the `ebur128` crate on the same samples in the same run, block by
//! block against real time, at three rates, in memory, the editor's frames, and what the background
//! does; then the command on files, and a hundred idle instances.
//!
//! Times of measuring are processor time of this thread. Runs of the two sides alternate, and the
//! median of the paired ratios is what counts: whatever else the machine does meets both. Before any
//! time is printed, both sides' loudness is compared.

mod background;
mod besides;
mod blocks;
mod files;
mod frames;
mod idle;
mod memory;
mod pair;
mod parts;
mod tracks;

use std::fs;

use anyhow::Result;
use serde_json::{Value, json};

use crate::bundle;
use crate::flags::BenchFlags;
use crate::workspace::Workspace;
use background::Entries;
use besides::Added;
use blocks::BlockTimes;
use pair::Paired;

/// Block lengths of the comparison, in frames.
const BLOCKS: [usize; 2] = [64, 512];
/// Readings that the plugin takes a second of audio.
const READINGS_A_SECOND: f64 = 30.0;
/// Rates of the last table, in Hz.
const RATES_HZ: [f64; 3] = [48_000.0, 96_000.0, 192_000.0];

/// `cargo xtask bench`
///
/// # Errors
///
/// When the two sides do not agree on the loudness of a track, or the figures cannot be written.
pub fn run(flags: &BenchFlags) -> Result<()> {
    if flags.parts {
        return parts::print();
    }
    let workspace = Workspace::find()?;
    let tracks = tracks::at_96_khz();
    let mut rows = Vec::new();
    for track in &tracks {
        for block in BLOCKS {
            eprintln!("    {}, blocks of {block} …", track.name);
            rows.push(pair::run(track, block)?);
        }
    }
    eprintln!("    block times …");
    let block_times = blocks::time_all(&tracks[0])?;
    let ferry = &block_times[0];
    eprintln!("    entries …");
    let mut entries = background::run(&tracks[..2])?;
    entries.extend(background::run(&[tracks::switched(96_000.0)])?);
    eprintln!("    three rates …");
    let mut rates = Vec::new();
    for rate_hz in RATES_HZ {
        rates.push((rate_hz, pair::run(&tracks::noise(rate_hz), 64)?));
    }
    eprintln!("    what else costs something …");
    let besides = besides::run(&tracks[..2])?;
    eprintln!("    the command on files …");
    let files = files::run(&workspace)?;
    eprintln!("    a hundred instances …");
    let idle = idle::watch(&bundle::build(&workspace)?.clap)?;
    eprintln!("    memory and the editor's frames …");
    let record = json!({
        "cpu_ratio_vs_ebur128": rows[0].ratio,
        "realtime_percent": rows[0].realtime_percent,
        "p999_block_share": ferry.p999_share,
        "median_block_share": ferry.median_share,
        "slowest_block_share": ferry.slowest_share,
        "block_times": block_times.iter().map(BlockTimes::record).collect::<Vec<_>>(),
        "entries": entries.iter().map(Entries::record).collect::<Vec<_>>(),
        "memory_mb": memory::of_an_instance()?,
        "editor_frame_ms": frames::time()?,
        "idle_100_threads": idle.as_ref().map(|idle| idle.threads),
        "idle_100_stopped_share": idle.as_ref().map(|idle| idle.stopped_share),
        "idle_100_silence_share": idle.as_ref().map(|idle| idle.silence_share),
        "files": files.record(),
        "tracks": rows.iter().map(Paired::record).collect::<Vec<_>>(),
        "besides": besides.iter().map(Added::record).collect::<Vec<_>>(),
        "rates": rates.iter().map(|(_, row)| row.record()).collect::<Vec<_>>(),
    });
    let path = workspace.target.join("bench").join("figures.json");
    fs::create_dir_all(workspace.target.join("bench"))?;
    fs::write(&path, format!("{record:#}\n"))?;
    if flags.json {
        println!("{record}");
    } else {
        print(&rows, &rates, &block_times, &record);
        besides::print(&besides);
        background::print(&entries);
        files.print();
        println!("\nRaw figures: {}", workspace.short(&path).display());
    }
    Ok(())
}

fn print(rows: &[Paired], rates: &[(f64, Paired)], block_times: &[BlockTimes], record: &Value) {
    println!("All measures with 30 readings a second, against ebur128 I+M+S+LRA+true peak\n");
    let heading =
        "track                        block   ours ns/frame   ebur128   ratio   of real time";
    println!("{heading}");
    for row in rows {
        print_row(row);
    }
    println!("\nDoes the cost grow as the rate? Noise, blocks of 64\n\n{heading}");
    for (_, row) in rates {
        print_row(row);
    }
    println!(
        "\nTime of a block of 64 frames, in percent of its duration, and of a reset\n\n\
         case                               median    99.9 %   slowest      reset"
    );
    for times in block_times {
        println!(
            "{:<33}{:>8.2}{:>10.2}{:>10.2}{:>8.1} µs",
            times.name,
            100.0 * times.median_share,
            100.0 * times.p999_share,
            100.0 * times.slowest_share,
            times.reset_us
        );
    }
    match record["memory_mb"].as_f64() {
        Some(megabytes) => {
            println!(
                "Memory of an instance with 200 entries and a day of history, 96 kHz: {megabytes:.1} MB"
            )
        }
        None => println!("Memory of an instance: not known on this system"),
    }
    let share = |name: &str| 100.0 * record[name].as_f64().unwrap_or(f64::NAN);
    if record["idle_100_threads"].is_u64() {
        println!(
            "A hundred instances, audio threads apart: {:.2} % of a core while processing is \
             stopped, {:.2} % while it is silent, {} threads, one of them the framework's",
            share("idle_100_stopped_share"),
            share("idle_100_silence_share"),
            record["idle_100_threads"]
        );
    }
    let frame_ms = record["editor_frame_ms"].as_f64().unwrap_or(f64::NAN);
    println!("Editor, one frame, layout and tessellation: {frame_ms:.2} ms");
}

/// The middle one of the values.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn print_row(row: &Paired) {
    println!(
        "{:<28} {:>5}   {:>13.1}   {:>7.1}   {:>5.2}   {:>10.3} %",
        row.track, row.block, row.ours_ns, row.peer_ns, row.ratio, row.realtime_percent
    );
}
