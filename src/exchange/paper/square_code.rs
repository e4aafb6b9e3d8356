//! The square code (QR, ISO/IEC 18004) that a phone's camera reads.

use super::PaperError;
use super::pen::{Ink, Pen};
use krilla::geom::{PathBuilder, Rect};
use qrcode::{Color, EcLevel, QrCode};

/// Draws the code of a text into a square of this side, its quiet zone included. Level M: an eighth of it may be dirty.
pub(super) fn draw(pen: &mut Pen<'_, '_>, left: f32, top: f32, side: f32, text: &str) -> Result<(), PaperError> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M);
    let code = code.map_err(|_| PaperError::new("the address is too long for a code"))?;
    let width = code.width();
    // Source: ISO/IEC 18004: four modules of nothing around the code.
    let module = side / small(width + 8);
    let colors = code.to_colors();
    let mut path = PathBuilder::new();
    for (row, line) in colors.chunks(width).enumerate() {
        let mut from = 0;
        while from < width {
            let length = line[from..].iter().take_while(|color| **color == Color::Dark).count();
            if length > 0 {
                let x = left + module * small(from + 4);
                let y = top + module * small(row + 4);
                path.push_rect(
                    Rect::from_xywh(x, y, module * small(length), module)
                        .ok_or_else(|| PaperError::new("the code has no size"))?,
                );
            }
            from += length.max(1);
        }
    }
    pen.draw(path, Ink::Dark);
    Ok(())
}

/// A count of modules; never more than a few hundred.
fn small(count: usize) -> f32 {
    f32::from(u16::try_from(count).unwrap_or(u16::MAX))
}
