//! What the entry points (`export`) and the plugin behind the framework share: what a host says
//! that the framework (nice-plug 0.4.2) does not hand on, or not in time.

use std::cell::RefCell;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, TryLockError, Weak};

use crate::audio::AudioSide;
use crate::layouts::{MAIN_BUSES, MOST_SIDE_CHANNELS, MainBus};
use crate::params::LedgerlineParams;
use crate::side_chain::SideChain;

/// The shared part of one instance.
pub struct HostLink {
    params: Arc<LedgerlineParams>,
    audio: Mutex<AudioSide>,
    side_chain: Mutex<SideChain>,
    main_bus: AtomicUsize,
    side_channels: AtomicUsize,
    offline: AtomicBool,
    /// The bits of the scale that the host has told; 0 while it has not.
    scale: AtomicU64,
}

thread_local! {
    /// The link that was made last on this thread.
    static NEWEST: RefCell<Weak<HostLink>> = const { RefCell::new(Weak::new()) };
}

impl HostLink {
    /// The link of one instance, which [`newest`](Self::newest) finds from now on.
    #[must_use]
    pub fn new(params: Arc<LedgerlineParams>, audio: AudioSide) -> Arc<Self> {
        let link = Arc::new(Self {
            params,
            audio: Mutex::new(audio),
            side_chain: Mutex::default(),
            main_bus: AtomicUsize::new(0),
            side_channels: AtomicUsize::new(MOST_SIDE_CHANNELS),
            offline: AtomicBool::new(false),
            scale: AtomicU64::new(0),
        });
        NEWEST.with_borrow_mut(|newest| *newest = Arc::downgrade(&link));
        link
    }

    /// The link made last on this thread: that of the instance that the framework has just made.
    #[must_use]
    pub fn newest() -> Option<Arc<Self>> {
        NEWEST.with_borrow(Weak::upgrade)
    }

    /// The parameters.
    #[must_use]
    pub fn params(&self) -> &Arc<LedgerlineParams> {
        &self.params
    }

    /// The audio side. May wait: not for the audio thread.
    pub fn audio(&self) -> MutexGuard<'_, AudioSide> {
        self.audio.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The audio side, unless another thread has it: a host that processes on one thread while it
    /// activates on another.
    pub fn audio_at_once(&self) -> Option<MutexGuard<'_, AudioSide>> {
        at_once(&self.audio)
    }

    /// The side-chain's samples on their way, unless another thread has them.
    pub fn side_chain_at_once(&self) -> Option<MutexGuard<'_, SideChain>> {
        at_once(&self.side_chain)
    }

    /// Makes space for the side-chain in blocks of up to `most_frames`. Allocates.
    pub fn prepare_side_chain(&self, most_frames: usize) {
        let mut side_chain = self.side_chain.lock().unwrap_or_else(PoisonError::into_inner);
        side_chain.prepare(self.side_channels(), most_frames);
    }

    /// The buses that the host has chosen.
    pub fn choose_buses(&self, main: &MainBus, side_channels: usize) {
        let index = MAIN_BUSES.iter().position(|bus| bus == main).unwrap_or(0);
        self.main_bus.store(index, Ordering::Relaxed);
        self.side_channels.store(side_channels.min(MOST_SIDE_CHANNELS), Ordering::Relaxed);
    }

    /// The main bus.
    #[must_use]
    pub fn main_bus(&self) -> &'static MainBus {
        &MAIN_BUSES[self.main_bus.load(Ordering::Relaxed)]
    }

    /// Channels of the side-chain, 0 where there is none.
    #[must_use]
    pub fn side_channels(&self) -> usize {
        self.side_channels.load(Ordering::Relaxed)
    }

    /// The host begins or ends rendering: the next block already knows.
    pub fn set_offline(&self, offline: bool) {
        self.offline.store(offline, Ordering::Relaxed);
    }

    /// Whether the host renders.
    #[must_use]
    pub fn is_offline(&self) -> bool {
        self.offline.load(Ordering::Relaxed)
    }

    /// The host tells how many physical pixels a logical point has. Says whether that can be so.
    pub fn set_scale(&self, scale: f64) -> bool {
        let possible = scale.is_finite() && scale > 0.0;
        if possible {
            self.scale.store(scale.to_bits(), Ordering::Relaxed);
        }
        possible
    }

    /// The scale that the host has told.
    #[must_use]
    pub fn scale(&self) -> Option<f64> {
        Some(self.scale.load(Ordering::Relaxed)).filter(|&bits| bits != 0).map(f64::from_bits)
    }
}

fn at_once<T>(shared: &Mutex<T>) -> Option<MutexGuard<'_, T>> {
    match shared.try_lock() {
        Ok(guard) => Some(guard),
        Err(TryLockError::Poisoned(poisoned)) => Some(poisoned.into_inner()),
        Err(TryLockError::WouldBlock) => None,
    }
}
