//! One line of a CAN log in the two open text forms of the Linux CAN utilities, and the parts of a J1939 identifier.
//!
//! `(1436509052.249713) can0 18FD7C00#00FF` and `can0  18FD7C00   [2]  00 FF`, the second with or without a time. Knows
//! nothing of what a frame means, and never drops a line: what cannot be read is said.
//! Source of both forms: the public documentation of the Linux CAN utilities (read).

/// The parts of a 29-bit identifier. Source: SAE J1939-21, public descriptions (read).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Identifier {
    /// 0 is the most urgent, 7 the least.
    pub priority: u8,
    /// The parameter group: extended data page, data page, format and, where it is no address, the specific byte.
    pub pgn: u32,
    /// Who is meant, where the message is for one receiver.
    pub destination: Option<u8>,
    /// Who sends.
    pub source: u8,
}

impl Identifier {
    /// Takes an identifier apart. `None` when it has more than 29 bits, or both page bits set: those messages belong to
    /// ISO 15765-3 and not to J1939.
    #[must_use]
    pub const fn of(id: u32) -> Option<Self> {
        let pages = (id >> 24) & 0b11;
        if id > 0x1FFF_FFFF || pages == 0b11 {
            return None;
        }
        let [_, format, specific, source] = id.to_be_bytes();
        // A format below 240 makes the specific byte the receiver's address, which is no part of the group's number.
        let addressed = format < 240;
        let low = if addressed { 0 } else { specific as u32 };
        Some(Self {
            priority: ((id >> 26) & 0b111) as u8,
            pgn: (pages << 16) | ((format as u32) << 8) | low,
            destination: if addressed { Some(specific) } else { None },
            source,
        })
    }
}

/// A data frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Frame<'t> {
    /// Microseconds as in the log; `None` in a log without times.
    pub(super) at_us: Option<i64>,
    pub(super) interface: &'t str,
    pub(super) id: u32,
    data: [u8; 8],
    length: usize,
}

impl Frame<'_> {
    pub(super) fn bytes(&self) -> &[u8] {
        &self.data[..self.length]
    }
}

/// What a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Line<'t> {
    /// Empty, or a remark that begins with `#`.
    Blank,
    /// A data frame with a 29-bit identifier.
    Frame(Frame<'t>),
    /// A frame that cannot carry a parameter group, in words.
    Other(&'static str),
}

/// Reads one line. What is left of a line that was cut is read as far as it goes.
pub(super) fn read(line: &str) -> Result<Line<'_>, String> {
    let line = line.trim();
    if line.is_empty() || line.starts_with('#') {
        return Ok(Line::Blank);
    }
    let (at_us, rest) = match line.strip_prefix('(') {
        Some(rest) => {
            let (time, rest) = rest.split_once(')').ok_or("the line is cut inside its time")?;
            (
                Some(microseconds(time).ok_or_else(|| format!("\"{time}\" is no time; write seconds and a fraction"))?),
                rest,
            )
        }
        None => (None, line),
    };
    let mut words = rest.split_whitespace();
    let interface = words.next().ok_or("the line is cut behind its time")?;
    // Direction and flags may stand between interface and identifier.
    let mut words = words.skip_while(|word| matches!(*word, "RX" | "TX" | "-" | "B" | "E"));
    let frame = words.next().ok_or("this is no frame: interface and identifier are needed")?;
    if let Some((id, data)) = frame.split_once('#') {
        return match words.next() {
            None | Some("R" | "T") => compact(at_us, interface, id, data),
            Some(more) => Err(format!("\"{more}\" stands behind the frame")),
        };
    }
    columns(at_us, interface, frame, words)
}

fn compact<'t>(at_us: Option<i64>, interface: &'t str, id: &str, data: &str) -> Result<Line<'t>, String> {
    let id = match identified(id)? {
        Ok(id) => id,
        Err(other) => return Ok(Line::Other(other)),
    };
    if data.starts_with('#') {
        return Ok(Line::Other("CAN FD frame"));
    }
    if data.starts_with(['R', 'r']) {
        return Ok(Line::Other("remote request"));
    }
    // `_B` behind eight bytes is a length code above 8, which J1939 does not use.
    let data = data.split_once('_').map_or(data, |(data, _)| data);
    let digits: Vec<u8> = data
        .chars()
        .filter(|letter| *letter != '.')
        .map(|letter| hexadecimal(letter).ok_or_else(|| format!("\"{letter}\" is no hexadecimal digit")))
        .collect::<Result<_, _>>()?;
    frame(at_us, interface, id, digits.chunks_exact(2).map(|pair| pair[0] << 4 | pair[1]))
}

fn columns<'t>(
    at_us: Option<i64>,
    interface: &'t str,
    id: &str,
    mut words: impl Iterator<Item = &'t str>,
) -> Result<Line<'t>, String> {
    let id = identified(id)?;
    let length = words.next().ok_or("the line is cut behind its identifier")?;
    let digits = length.strip_prefix('[').and_then(|rest| rest.strip_suffix(']'));
    let count: usize = digits
        .and_then(|digits| digits.parse().ok())
        .ok_or_else(|| format!("\"{length}\" is no length; a number in square brackets is wanted"))?;
    let id = match id {
        Ok(id) => id,
        Err(other) => return Ok(Line::Other(other)),
    };
    if digits.is_some_and(|digits| digits.len() > 1) {
        return Ok(Line::Other("CAN FD frame"));
    }
    let mut bytes = Vec::new();
    for word in words.take(count) {
        match (word, word.len()) {
            ("remote", _) => return Ok(Line::Other("remote request")),
            (_, 2) => match u8::from_str_radix(word, 16) {
                Ok(byte) if !word.starts_with('+') => bytes.push(byte),
                _ => return Err(format!("\"{word}\" is no hexadecimal byte")),
            },
            // Half a byte at the end of a line that was cut.
            (_, 1) => break,
            _ => return Err(format!("\"{word}\" is no hexadecimal byte")),
        }
    }
    frame(at_us, interface, id, bytes.into_iter())
}

fn frame<'t>(
    at_us: Option<i64>,
    interface: &'t str,
    id: u32,
    bytes: impl ExactSizeIterator<Item = u8>,
) -> Result<Line<'t>, String> {
    let length = bytes.len();
    if length > 8 {
        return Err(format!("{length} bytes of data; a frame has at most 8"));
    }
    let mut data = [0xFF; 8];
    data.iter_mut().zip(bytes).for_each(|(place, byte)| *place = byte);
    Ok(Line::Frame(Frame { at_us, interface, id, data, length }))
}

/// A 29-bit identifier, or what else it is.
fn identified(text: &str) -> Result<Result<u32, &'static str>, String> {
    let all_hexadecimal = text.chars().all(|letter| hexadecimal(letter).is_some());
    match (text.len(), u32::from_str_radix(text, 16)) {
        (3, Ok(_)) if all_hexadecimal => Ok(Err("frame with an 11-bit identifier")),
        (8, Ok(id)) if all_hexadecimal && id > 0x1FFF_FFFF => Ok(Err("error frame")),
        (8, Ok(id)) if all_hexadecimal => Ok(Ok(id)),
        _ => Err(format!("\"{text}\" is no identifier; 8 hexadecimal digits are wanted (3 for an 11-bit one)")),
    }
}

fn hexadecimal(letter: char) -> Option<u8> {
    letter.to_digit(16).and_then(|digit| u8::try_from(digit).ok())
}

/// Seconds with a fraction, or a date and a time of day, as microseconds.
fn microseconds(text: &str) -> Option<i64> {
    let (whole, fraction) = text.trim().split_once('.')?;
    if fraction.is_empty() || fraction.len() > 9 || !fraction.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let micros: i64 = format!("{fraction:0<6}")[..6].parse().ok()?;
    let seconds = if whole.contains('-') { date_seconds(whole)? } else { digits(whole)? };
    Some(seconds * 1_000_000 + micros)
}

/// Seconds since 1970-01-01 of `2026-03-02 08:17:32`, taken as it stands: only differences count.
fn date_seconds(text: &str) -> Option<i64> {
    let (date, time) = text.split_once(' ')?;
    let [year, month, day] = three(date, '-')?;
    let [hour, minute, second] = three(time, ':')?;
    let in_range = (1970..=9999).contains(&year)
        && (1..=12).contains(&month)
        && (1..=31).contains(&day)
        && hour < 24
        && minute < 60
        && second < 61;
    // Years begin in March, so that the leap day is the last of its year.
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let days = year * 365 + year / 4 - year / 100 + year / 400 + (month * 153 + 2) / 5 + day - 1 - 719_468;
    in_range.then_some(((days * 24 + hour) * 60 + minute) * 60 + second)
}

fn three(text: &str, between: char) -> Option<[i64; 3]> {
    let parts: Vec<i64> = text.split(between).map(digits).collect::<Option<_>>()?;
    parts.try_into().ok()
}

/// A whole number of at most twelve digits: no sum of such numbers overflows.
fn digits(text: &str) -> Option<i64> {
    let plain = (1..=12).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    if plain { text.parse().ok() } else { None }
}
