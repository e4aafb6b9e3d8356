//! Where labels go so that none lies on another.
//!
//! Never drops a label and never changes their order: it moves them apart as little as it must, or gives them one more row.

/// Width of a text in a drawing, in its units. A generous estimate for the shipped font: 0.58 em for each character
/// (chosen by us, because its widest usual letters in running text are narrower on average).
#[must_use]
pub fn text_width(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * 0.58
}

/// Centres of labels along a line from `low` to `high`. `wanted` holds each label's wished centre and its width, in ascending order of centre.
/// The labels keep their order and at least `gap` between them; when they cannot all fit they are squeezed evenly.
#[must_use]
pub fn spread(wanted: &[(f64, f64)], low: f64, high: f64, gap: f64) -> Vec<f64> {
    // Labels that touch become one block, which sits at the mean of what its members wish; blocks that touch merge again.
    struct Block {
        from: f64,
        width: f64,
        members: Vec<usize>,
    }
    let place = |members: &[usize]| {
        let width = members.iter().map(|&m| wanted[m].1).sum::<f64>() + gap * (members.len() as f64 - 1.0);
        let mut run = 0.0;
        let mut wish = 0.0;
        for &m in members {
            wish += wanted[m].0 - (run + wanted[m].1 / 2.0);
            run += wanted[m].1 + gap;
        }
        let from = (wish / members.len() as f64).min(high - width).max(low);
        Block { from, width, members: members.to_vec() }
    };
    let mut blocks: Vec<Block> = Vec::new();
    for index in 0..wanted.len() {
        let mut block = place(&[index]);
        while let Some(before) = blocks.pop_if(|before| before.from + before.width + gap > block.from) {
            let members: Vec<usize> = before.members.iter().chain(&block.members).copied().collect();
            block = place(&members);
        }
        blocks.push(block);
    }
    let mut centres = vec![0.0; wanted.len()];
    for block in &blocks {
        let room = (high - low).max(1.0);
        let squeeze = if block.width > room { room / block.width } else { 1.0 };
        let mut run = block.from;
        for &m in &block.members {
            centres[m] = run + wanted[m].1 * squeeze / 2.0;
            run += (wanted[m].1 + gap) * squeeze;
        }
    }
    centres
}

/// A label with its wished centre, its width, and how far its centre may stray and still be read as belonging there.
pub type Loose = (f64, f64, f64);

/// Like [`spread`], with as many rows (at most three) as it takes for every label to stay where it belongs: gives each label's centre
/// and row, the first being row 0. Neighbours go to different rows in turn.
#[must_use]
pub fn spread_in_rows(wanted: &[Loose], low: f64, high: f64, gap: f64) -> Vec<(f64, usize)> {
    let in_rows = |rows: usize| {
        let mut placed = vec![(0.0, 0); wanted.len()];
        for row in 0..rows {
            let members: Vec<(f64, f64)> = wanted.iter().skip(row).step_by(rows).map(|w| (w.0, w.1)).collect();
            for (at, centre) in spread(&members, low, high, gap).into_iter().enumerate() {
                placed[row + at * rows] = (centre, row);
            }
        }
        placed
    };
    let row_width = |rows: usize, row: usize| -> f64 {
        wanted.iter().skip(row).step_by(rows).map(|label| label.1 + gap).sum::<f64>() - gap
    };
    // How far the worst label strays beyond what it may; rows that do not fit are out of the question.
    let stray = |rows: usize, placed: &[(f64, usize)]| {
        if (0..rows).any(|row| row_width(rows, row) > high - low) {
            return f64::INFINITY;
        }
        let strays = placed.iter().zip(wanted).map(|(place, label)| ((place.0 - label.0).abs() - label.2).max(0.0));
        strays.fold(0.0_f64, f64::max)
    };
    let tries: Vec<_> = (1..=wanted.len().clamp(1, 3)).map(|rows| (rows, in_rows(rows))).collect();
    let least = tries.iter().map(|(rows, placed)| stray(*rows, placed)).fold(f64::INFINITY, f64::min);
    let best = tries.into_iter().find(|(rows, placed)| stray(*rows, placed) <= least);
    best.map(|(_, placed)| placed).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn assert_apart(wanted: &[(f64, f64)], centres: &[f64], gap: f64) {
        for at in 1..centres.len() {
            let room = centres[at] - wanted[at].1 / 2.0 - (centres[at - 1] + wanted[at - 1].1 / 2.0);
            assert!(room >= gap - 1e-9, "labels {} and {at} have {room} between them: {centres:?}", at - 1);
        }
    }

    #[test]
    fn labels_that_have_room_stay_where_they_are() {
        assert_eq!(spread(&[(50.0, 20.0), (200.0, 20.0)], 0.0, 300.0, 4.0), [50.0, 200.0]);
    }

    #[test]
    fn close_edges_move_apart_and_stay_in_the_drawing() {
        let wanted = [(3.0, 20.0), (300.0, 22.0), (312.0, 22.0), (318.0, 22.0), (399.0, 30.0)];
        let centres = spread(&wanted, 0.0, 400.0, 4.0);
        assert_apart(&wanted, &centres, 4.0);
        assert!(centres[0] - 10.0 >= 0.0 && centres[4] + 15.0 <= 400.0, "{centres:?}");
        assert!((centres[2] - 310.0).abs() < 1.0, "the block is centred on its members: {centres:?}");
    }

    #[test]
    fn names_that_would_stray_from_their_place_take_a_second_row() {
        let wanted = [(40.0, 90.0, 20.0), (100.0, 90.0, 20.0), (160.0, 90.0, 20.0), (220.0, 90.0, 20.0)];
        let placed = spread_in_rows(&wanted, 0.0, 270.0, 6.0);
        assert_eq!(placed.iter().map(|(_, row)| *row).collect::<Vec<_>>(), [0, 1, 0, 1]);
        for row in 0..2 {
            let (members, centres): (Vec<_>, Vec<_>) =
                wanted.iter().zip(&placed).filter(|(_, p)| p.1 == row).map(|(w, p)| ((w.0, w.1), p.0)).unzip();
            assert_apart(&members, &centres, 6.0);
        }
        for (place, label) in placed.iter().zip(&wanted) {
            assert!((place.0 - label.0).abs() <= label.2, "{placed:?}");
        }
    }

    #[test]
    fn names_that_have_room_share_one_row() {
        let placed = spread_in_rows(&[(50.0, 40.0, 5.0), (150.0, 40.0, 5.0)], 0.0, 200.0, 6.0);
        assert_eq!(placed, [(50.0, 0), (150.0, 0)]);
    }
}
