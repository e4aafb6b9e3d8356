//! Where things stand on the sheet.

use super::pen::{Ink, Pen, Weight};
use super::{HEIGHT, PaperError, Sheet, WIDTH, square_code};
use krilla::surface::Surface;

const LEFT: f32 = 56.0;
const RIGHT: f32 = WIDTH - LEFT;
const BODY: f32 = 10.5;
/// Where the part about checking begins, and its code's side.
const CHECK_TOP: f32 = 590.0;
const CODE_SIDE: f32 = 148.0;

/// Draws the whole sheet.
pub(super) fn draw(surface: &mut Surface<'_>, sheet: &Sheet<'_>) -> Result<(), PaperError> {
    let mut pen = Pen::new(surface)?;
    let y = head(&mut pen, sheet);
    let y = facts(&mut pen, sheet, y);
    scope(&mut pen, sheet, y);
    check(&mut pen, sheet)?;
    foot(&mut pen);
    Ok(())
}

fn head(pen: &mut Pen<'_, '_>, sheet: &Sheet<'_>) -> f32 {
    pen.write((LEFT, 74.0), BODY, Weight::Bold, Ink::Soft, sheet.organisation);
    pen.write((LEFT, 108.0), 30.0, Weight::Bold, Ink::Dark, "Certificate");
    pen.write_to((RIGHT, 108.0), 16.0, Weight::Bold, Ink::Dark, sheet.number);
    pen.fill(LEFT, 120.0, RIGHT - LEFT, 2.0, Ink::Dark);
    let mut y = 162.0;
    // A name is never cut: the smallest size holds the longest name that the program takes, in its widest letter.
    let in_lines = |size: f32| pen.lines(size, Weight::Bold, RIGHT - LEFT, sheet.holder);
    let fitting = [(26.0, 1), (17.0, 2), (13.0, 3)].into_iter().find(|(size, most)| in_lines(*size).len() <= *most);
    let size = fitting.map_or(11.0, |(size, _)| size);
    for line in in_lines(size) {
        pen.write((LEFT, y), size, Weight::Bold, Ink::Dark, &line);
        y += size * 1.2;
    }
    let says = format!(
        "has passed the examination of the scheme \u{201c}{}\u{201d}, version {}, and is certified for the scope below.",
        sheet.scheme, sheet.scheme_version
    );
    for line in pen.lines(12.0, Weight::Regular, RIGHT - LEFT, &says).iter().take(4) {
        pen.write((LEFT, y), 12.0, Weight::Regular, Ink::Dark, line);
        y += 17.0;
    }
    y + 6.0
}

fn facts(pen: &mut Pen<'_, '_>, sheet: &Sheet<'_>, top: f32) -> f32 {
    let facts = [
        ("Valid from", sheet.valid_from),
        ("Valid until", sheet.valid_until),
        ("Examined", sheet.examined),
        ("Decided by", sheet.decided_by),
    ];
    let width = (RIGHT - LEFT) / 4.0;
    pen.fill(LEFT, top, RIGHT - LEFT, 0.75, Ink::Rule);
    for ((label, value), column) in facts.iter().zip([0.0, 1.0, 2.0, 3.0]) {
        let x = LEFT + width * column;
        pen.write((x, top + 15.0), 8.5, Weight::Regular, Ink::Soft, label);
        pen.write((x, top + 30.0), 12.0, Weight::Bold, Ink::Dark, value);
    }
    pen.fill(LEFT, top + 40.0, RIGHT - LEFT, 0.75, Ink::Rule);
    top + 64.0
}

/// Both lists side by side, as large as there is room for; what finds no room in the smallest letters is counted.
fn scope(pen: &mut Pen<'_, '_>, sheet: &Sheet<'_>, top: f32) {
    let width = (RIGHT - LEFT - 20.0) / 2.0;
    let room = CHECK_TOP - 22.0 - (top + 18.0);
    let columns = [("Competences", sheet.competences), ("Machine profiles", sheet.machines)];
    let broken = |pen: &Pen<'_, '_>, size: f32| {
        columns.map(|(_, list)| {
            let lines = |one: &String| pen.lines(size, Weight::Regular, width, one);
            list.iter().flat_map(lines).collect::<Vec<_>>()
        })
    };
    let fits = |lines: &[Vec<String>; 2], size: f32| lines.iter().all(|list| rows(list.len()) * leading(size) <= room);
    let mut size = BODY;
    let mut lists = broken(pen, size);
    for smaller in [9.0, 8.0, 7.0] {
        if fits(&lists, size) {
            break;
        }
        size = smaller;
        lists = broken(pen, size);
    }
    for ((column, list), x) in columns.iter().zip(lists).zip([LEFT, LEFT + width + 20.0]) {
        if list.is_empty() {
            continue;
        }
        pen.write((x, top), 12.0, Weight::Bold, Ink::Dark, column.0);
        let mut y = top + 18.0;
        let mut left = list.len();
        for line in &list {
            if left > 1 && y + leading(size) > top + 18.0 + room {
                let more = format!("and {left} more lines, on the page behind the code");
                pen.write((x, y), size, Weight::Regular, Ink::Soft, &more);
                break;
            }
            pen.write((x, y), size, Weight::Regular, Ink::Dark, line);
            y += leading(size);
            left -= 1;
        }
    }
}

fn leading(size: f32) -> f32 {
    size * 1.45
}

fn rows(count: usize) -> f32 {
    f32::from(u16::try_from(count).unwrap_or(u16::MAX))
}

fn check(pen: &mut Pen<'_, '_>, sheet: &Sheet<'_>) -> Result<(), PaperError> {
    pen.fill(LEFT, CHECK_TOP, RIGHT - LEFT, 2.0, Ink::Dark);
    square_code::draw(pen, RIGHT - CODE_SIDE + 8.0, CHECK_TOP + 8.0, CODE_SIDE, sheet.check_address)?;
    let width = RIGHT - LEFT - CODE_SIDE - 6.0;
    let mut y = CHECK_TOP + 26.0;
    pen.write((LEFT, y), 12.0, Weight::Bold, Ink::Dark, "Check it");
    let text = [
        (
            Ink::Dark,
            "This sheet does not know whether the certificate is still valid. Scan the code, or open this address:",
        ),
        (Ink::Dark, sheet.check_address),
        (
            Ink::Dark,
            "The page says valid or not valid, the scope and the dates, and no name: compare them with this sheet, and ask its holder to show who they are.",
        ),
    ];
    for (ink, paragraph) in text {
        y += 5.0;
        for line in pen.lines(9.5, Weight::Regular, width, paragraph) {
            y += 13.0;
            pen.write((LEFT, y), 9.5, Weight::Regular, ink, &line);
        }
    }
    let inside = format!(
        "Inside this PDF lies {}: the same certificate as a signed file (Open Badges 3.0). A verifier checks it, also without a \
         network, against the public key at {}.",
        super::SIGNED_FILE,
        sheet.issuer
    );
    y += 5.0;
    for line in pen.lines(8.5, Weight::Regular, width, &inside) {
        y += 12.0;
        pen.write((LEFT, y), 8.5, Weight::Regular, Ink::Soft, &line);
    }
    Ok(())
}

fn foot(pen: &mut Pen<'_, '_>) {
    let top = HEIGHT - 76.0;
    pen.fill(LEFT, top, RIGHT - LEFT, 0.75, Ink::Rule);
    let text = "Certified on training values. At the machine, the operator's manual, local codes and licensed practice decide.";
    let mut y = top + 4.0;
    for line in pen.lines(BODY, Weight::Bold, RIGHT - LEFT, text) {
        y += 15.0;
        pen.write((LEFT, y), BODY, Weight::Bold, Ink::Dark, &line);
    }
}
