//! A square code (QR, ISO/IEC 18004) as SVG, for a phone's camera in front of the screen.

use qrcode::{Color, EcLevel, QrCode};
use serde::Serialize;

/// What a page draws.
#[derive(Clone, Debug, Serialize)]
pub struct SquareCode {
    /// Modules on a side, with four of nothing around.
    pub side: usize,
    /// The dark modules, as an SVG path.
    pub path: String,
}

/// The code of a text; nothing when it is too long for one.
#[must_use]
pub fn square_code(text: &str) -> Option<SquareCode> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let width = code.width();
    let mut path = String::new();
    for (row, line) in code.to_colors().chunks(width).enumerate() {
        let mut from = 0;
        while from < width {
            let length = line[from..].iter().take_while(|color| **color == Color::Dark).count();
            if length > 0 {
                path.push_str(&format!("M{} {}h{length}v1h-{length}z", from + 4, row + 4));
            }
            from += length.max(1);
        }
    }
    Some(SquareCode { side: width + 8, path })
}

#[cfg(test)]
mod tests {
    use super::*;

    // ISO/IEC 18004, by a reader that shares nothing with the writer (rqrr).
    #[test]
    fn a_reader_reads_back_what_the_path_draws() {
        let text = "otpauth://totp/Sootmark:ann%40example.org?secret=MZXW6YTBOI&issuer=Sootmark";
        let code = square_code(text).unwrap();
        let mut dark = vec![vec![false; code.side]; code.side];
        for run in code.path.split('M').skip(1) {
            let (at, length) = run.split_once('h').unwrap();
            let (x, y) = at.split_once(' ').unwrap();
            let (x, y): (usize, usize) = (x.parse().unwrap(), y.parse().unwrap());
            let length: usize = length.split('v').next().unwrap().parse().unwrap();
            dark[y][x..x + length].fill(true);
        }
        let scale = 4;
        let mut image = rqrr::PreparedImage::prepare_from_greyscale(code.side * scale, code.side * scale, |x, y| {
            if dark[y / scale][x / scale] { 0 } else { 255 }
        });
        let grids = image.detect_grids();
        assert_eq!(grids.len(), 1);
        assert_eq!(grids[0].decode().unwrap().1, text);
    }
}
