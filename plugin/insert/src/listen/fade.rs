//! A share of what is heard that moves evenly between none and all. It is counted in frames, so that
//! shares that take turns add up to all of it.

/// The share, and how long it takes from none to all.
pub(super) struct Fade {
    faded: u32,
    whole: u32,
}

impl Fade {
    /// Nothing is heard; a fade takes so many frames.
    pub(super) fn out(frames: u32) -> Self {
        Self { faded: 0, whole: frames.max(1) }
    }

    /// Everything is heard.
    pub(super) fn full(frames: u32) -> Self {
        Self { faded: frames.max(1), ..Self::out(frames) }
    }

    pub(super) fn is_out(&self) -> bool {
        self.faded == 0
    }

    pub(super) fn is_full(&self) -> bool {
        self.faded == self.whole
    }

    /// Nothing is heard from now on, without a fade.
    pub(super) fn cut(&mut self) {
        self.faded = 0;
    }

    /// Fills in the shares of the frames to come, moving towards all or towards none.
    pub(super) fn advance(&mut self, wanted: bool, shares: &mut [f32]) {
        for share in shares {
            *share = self.share();
            self.faded = if wanted {
                (self.faded + 1).min(self.whole)
            } else {
                self.faded.saturating_sub(1)
            };
        }
    }

    /// Fills in the shares of the frames to come, staying where it is.
    pub(super) fn hold(&self, shares: &mut [f32]) {
        shares.fill(self.share());
    }

    fn share(&self) -> f32 {
        if self.is_full() { 1.0 } else { self.faded as f32 / self.whole as f32 }
    }
}
