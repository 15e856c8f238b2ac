//! A stream in memory, through which a plugin's state goes in and out.
#![allow(unsafe_code, reason = "the plugin hands over raw memory")]

use std::ffi::c_void;
use std::sync::Mutex;

use vst3::Steinberg::IBStream_::IStreamSeekMode_::{kIBSeekCur, kIBSeekEnd, kIBSeekSet};
use vst3::Steinberg::{IBStream, IBStreamTrait, kInvalidArgument, kResultOk, tresult};
use vst3::{Class, ComWrapper};

/// Bytes with a position.
pub struct MemoryStream(Mutex<Contents>);

struct Contents {
    bytes: Vec<u8>,
    position: usize,
}

impl MemoryStream {
    /// A stream that holds `bytes` and stands at their start.
    pub fn new(bytes: &[u8]) -> ComWrapper<Self> {
        ComWrapper::new(Self(Mutex::new(Contents { bytes: bytes.to_vec(), position: 0 })))
    }

    /// What the stream holds.
    pub fn bytes(&self) -> Vec<u8> {
        self.contents().bytes.clone()
    }

    fn contents(&self) -> std::sync::MutexGuard<'_, Contents> {
        self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}

impl Class for MemoryStream {
    type Interfaces = (IBStream,);
}

#[allow(non_snake_case, reason = "the API's names")]
impl IBStreamTrait for MemoryStream {
    unsafe fn read(&self, buffer: *mut c_void, numBytes: i32, numBytesRead: *mut i32) -> tresult {
        let Ok(wanted) = usize::try_from(numBytes) else {
            return kInvalidArgument;
        };
        let mut contents = self.contents();
        let start = contents.position.min(contents.bytes.len());
        let count = wanted.min(contents.bytes.len() - start);
        // SAFETY: the API's contract is that `buffer` holds `numBytes` bytes, `count` is no more,
        // and the source is a range within the vector; they cannot overlap.
        unsafe {
            let source = contents.bytes[start..start + count].as_ptr();
            std::ptr::copy_nonoverlapping(source, buffer.cast(), count);
            if let Some(read) = numBytesRead.as_mut() {
                *read = i32::try_from(count).unwrap_or(i32::MAX);
            }
        }
        contents.position = start + count;
        kResultOk
    }

    unsafe fn write(
        &self,
        buffer: *mut c_void,
        numBytes: i32,
        numBytesWritten: *mut i32,
    ) -> tresult {
        let Ok(count) = usize::try_from(numBytes) else {
            return kInvalidArgument;
        };
        let mut contents = self.contents();
        let end = contents.position + count;
        if contents.bytes.len() < end {
            contents.bytes.resize(end, 0);
        }
        let start = contents.position;
        // SAFETY: the API's contract is that `buffer` holds `numBytes` bytes; the vector was just
        // made long enough, and they cannot overlap.
        unsafe {
            let target = contents.bytes[start..end].as_mut_ptr();
            std::ptr::copy_nonoverlapping(buffer.cast(), target, count);
            if let Some(written) = numBytesWritten.as_mut() {
                *written = numBytes;
            }
        }
        contents.position = end;
        kResultOk
    }

    unsafe fn seek(&self, pos: i64, mode: i32, result: *mut i64) -> tresult {
        let mut contents = self.contents();
        #[allow(clippy::unnecessary_cast, reason = "the constants' type differs by system")]
        let from = match mode {
            mode if mode == kIBSeekSet as i32 => 0,
            mode if mode == kIBSeekCur as i32 => contents.position,
            mode if mode == kIBSeekEnd as i32 => contents.bytes.len(),
            _ => return kInvalidArgument,
        };
        let Some(position) = i64::try_from(from)
            .ok()
            .and_then(|from| from.checked_add(pos))
            .and_then(|position| usize::try_from(position).ok())
        else {
            return kInvalidArgument;
        };
        contents.position = position;
        // SAFETY: the API's contract is that the pointer is null or valid.
        if let Some(result) = unsafe { result.as_mut() } {
            *result = position as i64;
        }
        kResultOk
    }

    unsafe fn tell(&self, pos: *mut i64) -> tresult {
        let position = self.contents().position;
        // SAFETY: the API's contract is that the pointer is null or valid.
        match unsafe { pos.as_mut() } {
            Some(pos) => {
                *pos = position as i64;
                kResultOk
            }
            None => kInvalidArgument,
        }
    }
}
