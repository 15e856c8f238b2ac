//! What a sample-peak meter will show after the usual conversion to 48 kHz, or out through a converter
//! and in again.
//!
//! Both take away what lies above 20 kHz and place the samples anew. So the audible band's sample peak
//! is the estimate: it has been through the same low-pass. What lies below 20 Hz, a conversion of rate
//! keeps, and an analogue path takes away in part: that makes a second figure where it counts.

use crate::causes::CauseCode;
use crate::finding::thresholds::NOTHING_DB;
use crate::level::Level;
use crate::reading::Reading;
use crate::settings::Edges;
use crate::words;

/// Nothing is converted to the rate that it has.
const USUAL_RATE_HZ: f64 = 48_000.0;

/// What a sample-peak meter will show, in dBFS.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AfterConversion {
    /// Where what lies below the audible band is taken away.
    pub without_lows_dbfs: Level,
    /// Where it stays.
    pub with_lows_dbfs: Level,
    converts: bool,
}

impl AfterConversion {
    /// The estimate from a reading; none of silence, and none from edges of one's own: those of the usual
    /// converters are 20 Hz and 20 kHz.
    #[must_use]
    pub fn of(reading: &Reading, edges: Edges) -> Option<Self> {
        let without_lows_dbfs = reading.audible.bus.sample_peak_dbfs;
        let below = reading.causes.iter().find(|cause| cause.code == CauseCode::Below);
        let price_db = below.map_or(0.0, |cause| cause.price_db);
        (edges == Edges::default() && without_lows_dbfs.finite().is_some()).then(|| Self {
            without_lows_dbfs,
            with_lows_dbfs: without_lows_dbfs.plus(price_db),
            converts: reading.sample_rate_hz != USUAL_RATE_HZ,
        })
    }

    /// It in plain words. Allocates.
    #[must_use]
    pub fn sentence(&self) -> String {
        let conversion = format!("After conversion to {}, or out", words::frequency(USUAL_RATE_HZ));
        let way = if self.converts { conversion.as_str() } else { "Out" };
        let spoken = |level| words::spoken(level, "dBFS");
        let lows = self.with_lows_dbfs.minus(self.without_lows_dbfs).finite().unwrap_or(0.0);
        let with_lows = if lows.abs() < NOTHING_DB {
            String::new()
        } else {
            format!(", or {} where what lies below 20 Hz stays", spoken(self.with_lows_dbfs))
        };
        format!(
            "{way} through a converter and in again, a sample-peak meter shows about {}{with_lows}: an \
             estimate from the audible band.",
            spoken(self.without_lows_dbfs)
        )
    }
}
