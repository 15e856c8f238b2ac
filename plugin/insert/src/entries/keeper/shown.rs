//! What the editor and the log are told of the entries, and when: the entry under way costs a
//! transform each time it is looked at, and its change several.

use std::sync::Arc;
use std::time::{Duration, Instant};

use ledgerline_measure::entries::{Change, Entry, MOST_ENTRIES};

use super::hearing::Hearing;
use crate::entries::board::{Board, ChangeTo, Listed, Pair};

/// For so long after somebody has looked, the entry under way is kept fresh.
const WATCHED: Duration = Duration::from_secs(1);
/// What an entry needs before its change is told, in seconds.
const TOLD_FROM_S: f64 = 3.0;
/// How often the entry under way is looked at before that, and after, in seconds of sound.
const SOON_S: f64 = 1.0;
const LATER_S: f64 = 2.0;
/// After so many seconds it is looked at less often.
const SETTLED_S: f64 = 10.0;
const SETTLED_EVERY_S: f64 = 5.0;

/// See the module.
#[derive(Default)]
pub(super) struct Shown {
    /// The number of the latest entry that has been told of.
    told: u64,
    ended: Arc<Vec<Listed>>,
    older: u64,
    under_way: Option<Listed>,
    latest: Option<Arc<ChangeTo>>,
    picked: Option<(Pair, Option<Arc<ChangeTo>>)>,
    /// When it was looked at, in seconds of sound.
    looked_at_s: Option<f64>,
    watched_at: Option<Instant>,
    /// Whether something is not pinned yet.
    fresh: bool,
}

impl Shown {
    /// Tells `heard` of every entry that has ended and has not been told of.
    pub(super) fn note(&mut self, hearing: &mut Hearing, heard: &mut impl FnMut(&Entry)) {
        let Some(entries) = hearing.entries() else { return };
        let list = entries.list();
        let new = list.iter().rev().take_while(|entry| entry.number > self.told).count();
        if new == 0 {
            return;
        }
        self.older = list.older();
        let mut start_s = 0.0;
        for entry in list.iter().skip(list.iter().len() - new) {
            let placed = hearing.placed(entry);
            self.told = entry.number;
            start_s = entry.start_s;
            self.list(&placed);
            heard(&placed);
        }
        hearing.forget_before(start_s);
        (self.under_way, self.looked_at_s) = (None, None);
    }

    fn list(&mut self, entry: &Entry) {
        let list = Arc::make_mut(&mut self.ended);
        if list.len() == MOST_ENTRIES {
            list.remove(0);
        }
        list.push(Listed::of(entry));
        self.tell_change(entry);
        self.fresh = true;
    }

    fn tell_change(&mut self, entry: &Entry) {
        if entry.end_s - entry.start_s >= TOLD_FROM_S
            && let Some(change) = &entry.change
        {
            let change = change.clone();
            self.latest = Some(Arc::new(ChangeTo { to: entry.number, change }));
        }
    }

    /// Pins what is new for the editor, if anybody looks.
    pub(super) fn pin(&mut self, hearing: &mut Hearing, board: &Board) {
        let now = Instant::now();
        if board.is_watched() {
            self.watched_at = Some(now);
        }
        let watched = self.watched_at.is_some_and(|at| now.saturating_duration_since(at) < WATCHED);
        if watched {
            self.pick(hearing, board.picked());
            let measured_s = self.measured_s();
            let pause_s = match measured_s {
                s if s < TOLD_FROM_S => SOON_S,
                s if s < SETTLED_S => LATER_S,
                _ => SETTLED_EVERY_S,
            };
            let now_s = hearing.measured_s();
            if self.looked_at_s.is_none_or(|at_s| now_s >= at_s + pause_s) {
                self.looked_at_s = Some(now_s);
                self.look(hearing);
            }
        }
        if watched || std::mem::take(&mut self.fresh) {
            let (under_way, listening_since_s) = self.at_present(hearing);
            board.pin(|told| {
                told.ended.clone_from(&self.ended);
                told.older = self.older;
                (told.under_way, told.listening_since_s) = (under_way, listening_since_s);
                told.latest.clone_from(&self.latest);
                told.picked = self.picked.as_ref().and_then(|(_, change)| change.clone());
            });
        }
    }

    /// Looks at the entry under way.
    fn look(&mut self, hearing: &mut Hearing) {
        self.under_way = hearing.under_way().map(|entry| {
            self.tell_change(&entry);
            Listed::of(&entry)
        });
    }

    /// How much of the entry under way was measured when it was last looked at, in seconds.
    fn measured_s(&self) -> f64 {
        self.under_way.as_ref().map_or(0.0, |listed| listed.end_s - listed.start_s)
    }

    /// The entry under way, and since when a change is listened to that cannot be told yet.
    fn at_present(&self, hearing: &Hearing) -> (Option<Listed>, Option<f64>) {
        let under_way = self.under_way.clone();
        let under_way = under_way.map(|listed| Listed { end_s: hearing.now_s(), ..listed });
        let measured_s = self.measured_s();
        let since = hearing.newest_start_s().filter(|start_s| {
            let is_newer = self.under_way.as_ref().is_none_or(|listed| *start_s > listed.start_s);
            is_newer || measured_s < TOLD_FROM_S
        });
        (under_way, since.filter(|_| !self.ended.is_empty() || self.under_way.is_some()))
    }

    /// The change between two entries that have ended.
    fn pick(&mut self, hearing: &Hearing, pair: Option<Pair>) {
        if self.picked.as_ref().map(|(pair, _)| *pair) == pair {
            return;
        }
        self.picked = pair.map(|[one, other]| {
            let find = |number| hearing.entries().and_then(|e| e.list().numbered(number));
            let change = find(one).zip(find(other)).map(|(before, after)| {
                Arc::new(ChangeTo { to: other, change: Change::new(before, after) })
            });
            (pair.unwrap_or_default(), change)
        });
    }
}
