//! Atoms, which the standard calls boxes: a size of 32 bits, four letters, a body.

/// The atoms that follow one another in a body; stops at the first that does not fit.
pub(super) struct Atoms<'a> {
    rest: &'a [u8],
}

impl<'a> Atoms<'a> {
    pub(super) fn of(body: &'a [u8]) -> Self {
        Self { rest: body }
    }
}

impl<'a> Iterator for Atoms<'a> {
    type Item = (&'a [u8; 4], &'a [u8]);

    fn next(&mut self) -> Option<Self::Item> {
        let size = be_u32(self.rest, 0)? as usize;
        let kind = self.rest.get(4..8)?.first_chunk()?;
        let (head, size) = match size {
            0 => (8, self.rest.len()),
            1 => (16, usize::try_from(be_u64(self.rest, 8)?).ok()?),
            size => (8, size),
        };
        let body = self.rest.get(head..size)?;
        self.rest = &self.rest[size..];
        Some((kind, body))
    }
}

/// The body of the first atom of that kind.
pub(super) fn find<'a>(body: &'a [u8], wanted: &[u8; 4]) -> Option<&'a [u8]> {
    Atoms::of(body).find(|(kind, _)| *kind == wanted).map(|(_, body)| body)
}

pub(super) fn be_u32(body: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(*body.get(at..)?.first_chunk()?))
}

pub(super) fn be_u64(body: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_be_bytes(*body.get(at..)?.first_chunk()?))
}
