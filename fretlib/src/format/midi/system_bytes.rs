//! Bytes of a live stream that stand in a file where they should not.

use std::borrow::Cow;

/// The file without system messages in its tracks, each of whose waits is added to that of the event after it; as it is when
/// it has none, or when a track cannot be followed.
///
/// A recorder that writes down all it receives leaves clock and active-sensing bytes among the events, which Standard MIDI
/// Files have no place for. Source: MIDI 1.0 Detailed Specification, tables of system common and system real-time messages
/// (from memory): F1 and F3 have one byte of data, F2 two, F4 to F6 and F8 to FE none.
pub(super) fn without_system_bytes(bytes: &[u8]) -> Cow<'_, [u8]> {
    // Most files have none of these bytes anywhere; without a way out in the middle, many are looked at at once.
    if !bytes.iter().fold(false, |any, byte| any | is_system(*byte)) {
        return Cow::Borrowed(bytes);
    }
    let mut out = Vec::new();
    let mut at = 0;
    let mut is_changed = false;
    while let Some(header) = bytes.get(at..at + 8) {
        let length = u32::from_be_bytes([header[4], header[5], header[6], header[7]]) as usize;
        let end = at.saturating_add(8).saturating_add(length).min(bytes.len());
        let chunk = &bytes[at + 8..end];
        let cleaned = match header.starts_with(b"MTrk") {
            true => cleaned_track(chunk),
            false => None,
        };
        is_changed |= cleaned.is_some();
        let chunk = cleaned.as_deref().unwrap_or(chunk);
        out.extend_from_slice(&header[..4]);
        out.extend_from_slice(&(chunk.len() as u32).to_be_bytes());
        out.extend_from_slice(chunk);
        at = end;
    }
    match is_changed {
        true => Cow::Owned(out),
        false => Cow::Borrowed(bytes),
    }
}

/// Whether a status byte is that of a system message other than an exclusive one.
const fn is_system(status: u8) -> bool {
    matches!(status, 0xF1..=0xF6 | 0xF8..=0xFE)
}

/// A track without system messages; `None` when it has none or cannot be followed.
fn cleaned_track(track: &[u8]) -> Option<Vec<u8>> {
    let mut out = Vec::with_capacity(track.len());
    let mut rest = track;
    let mut waited = 0u32;
    let mut is_changed = false;
    let mut running = 0;
    while !rest.is_empty() {
        waited = waited.checked_add(take_number(&mut rest)?)?;
        let first = *rest.first()?;
        let has_status = first >= 0x80;
        let status = if has_status { first } else { running };
        let start = usize::from(has_status);
        if is_system(status) && has_status {
            let data = match status {
                0xF1 | 0xF3 => 1,
                0xF2 => 2,
                _ => 0,
            };
            rest = rest.get(1 + data..)?;
            is_changed = true;
            continue;
        }
        let length = match status {
            0x80..=0xBF | 0xE0..=0xEF => start + 2,
            0xC0..=0xDF => start + 1,
            0xF0 | 0xF7 | 0xFF => {
                let kind = usize::from(status == 0xFF);
                let mut after = rest.get(1 + kind..)?;
                let data = take_number(&mut after)? as usize;
                rest.len() - after.len() + data
            }
            _ => return None,
        };
        if has_status && status < 0xF0 {
            running = status;
        }
        put_number(std::mem::take(&mut waited), &mut out)?;
        out.extend_from_slice(rest.get(..length)?);
        rest = &rest[length..];
    }
    is_changed.then_some(out)
}

/// Takes a number of up to four bytes with seven bits each.
fn take_number(rest: &mut &[u8]) -> Option<u32> {
    let mut number = 0;
    for _ in 0..4 {
        let (byte, after) = rest.split_first()?;
        *rest = after;
        number = number << 7 | u32::from(byte & 0x7F);
        if *byte < 0x80 {
            return Some(number);
        }
    }
    None
}

fn put_number(number: u32, out: &mut Vec<u8>) -> Option<()> {
    if number > 0x0FFF_FFFF {
        return None;
    }
    for shift in [21, 14, 7] {
        if number >> shift > 0 {
            out.push((number >> shift) as u8 & 0x7F | 0x80);
        }
    }
    out.push(number as u8 & 0x7F);
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(track: &[u8]) -> Vec<u8> {
        let mut bytes = b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk".to_vec();
        bytes.extend_from_slice(&(track.len() as u32).to_be_bytes());
        bytes.extend_from_slice(track);
        bytes
    }

    #[test]
    fn clock_bytes_are_taken_out_and_their_waits_kept() {
        let clocked = file(&[
            0, 0x90, 69, 64, 0x40, 0xF8, 0x30, 0xFE, 0, 0xF2, 1, 2, 0x10, 69, 0, 0, 0xFF, 0x2F, 0,
        ]);
        let plain = file(&[0, 0x90, 69, 64, 0x81, 0x00, 69, 0, 0, 0xFF, 0x2F, 0]);
        assert_eq!(*without_system_bytes(&clocked), plain);
    }

    #[test]
    fn other_files_stay_as_they_are() {
        for track in [
            &[0, 0x90, 69, 64, 0x60, 0x80, 69, 64, 0, 0xFF, 0x2F, 0][..],
            &[0, 0xF0, 2, 0x7E, 0xF7, 0, 0xFF, 0x2F, 0],
            &[0, 0xF8, 0, 0x90],
            &[0xFF, 0xFF, 0xFF, 0xFF, 0xFF],
            &[],
        ] {
            let bytes = file(track);
            assert_eq!(*without_system_bytes(&bytes), bytes);
        }
    }

    quickcheck::quickcheck! {
        fn any_track_is_taken(track: Vec<u8>) -> bool {
            !without_system_bytes(&file(&track)).is_empty()
        }
    }
}
