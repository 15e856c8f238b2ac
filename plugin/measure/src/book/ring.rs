//! The latest values of something that comes once a hop.

pub(crate) struct Ring<T> {
    values: Vec<T>,
    next: usize,
    count: usize,
}

impl<T: Copy + Default> Ring<T> {
    pub(crate) fn new(capacity: usize) -> Self {
        Self { values: vec![T::default(); capacity], next: 0, count: 0 }
    }

    pub(crate) fn clear(&mut self) {
        self.next = 0;
        self.count = 0;
    }

    pub(crate) fn push(&mut self, value: T) {
        self.values[self.next] = value;
        self.next = (self.next + 1) % self.values.len();
        self.count = (self.count + 1).min(self.values.len());
    }

    /// Empties the latest `count` places.
    pub(crate) fn clear_latest(&mut self, count: usize) {
        let length = self.values.len();
        for back in 1..=count.min(self.count) {
            self.values[(self.next + length - back) % length] = T::default();
        }
    }

    /// The latest values, newest first: `count` of them, or as many as there are.
    pub(crate) fn latest(&self, count: usize) -> impl Iterator<Item = T> {
        let count = count.min(self.count);
        let fresh = count.min(self.next);
        let (newer, older) = self.values.split_at(self.next);
        let newer = newer[self.next - fresh..].iter().rev();
        newer.chain(older[older.len() - (count - fresh)..].iter().rev()).copied()
    }
}
