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
