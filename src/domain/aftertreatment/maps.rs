//! What a profile knows only at some points: values over load and speed, and values over one quantity.
//!
//! Never extrapolates: outside its grid a map answers with the value at the edge and says that it did.

use serde::{Deserialize, Serialize};

/// A value read from a map.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clamped {
    /// The value, in the map's unit.
    pub value: f64,
    /// Whether the point asked for lies outside the map and the edge answered for it.
    pub clamped: bool,
}

/// Why numbers do not make a map or a curve.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum GridError {
    /// Fewer than two points along an axis.
    #[error("{axis} has {count} points; a map needs at least 2")]
    TooFew {
        /// Which axis.
        axis: &'static str,
        /// How many points it has.
        count: usize,
    },
    /// An axis does not rise.
    #[error("{axis} must rise from point to point, but {after} follows {before}")]
    NotRising {
        /// Which axis.
        axis: &'static str,
        /// A point.
        before: f64,
        /// The point after it, which is not larger.
        after: f64,
    },
    /// A row is longer or shorter than its axis.
    #[error("{row} has {found} values, but {axis} has {wanted} points")]
    Ragged {
        /// Which row, in words.
        row: String,
        /// How many values it has.
        found: usize,
        /// The axis it has to fit.
        axis: &'static str,
        /// How many it needs.
        wanted: usize,
    },
    /// A number is infinite or not a number.
    #[error("{0} holds a number that is not finite")]
    NotFinite(&'static str),
}

/// A value over one quantity, straight between its points.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    xs: Vec<f64>,
    values: Vec<f64>,
}

impl Curve {
    /// A curve through the points `(xs[i], values[i])`.
    ///
    /// # Errors
    /// When there are fewer than two points, a number is not finite, `xs` does not rise, or the lengths differ.
    pub fn new(xs: Vec<f64>, values: Vec<f64>) -> Result<Self, GridError> {
        check_axis("the axis", &xs)?;
        check_row("the curve".to_owned(), &values, "the axis", xs.len())?;
        Ok(Self { xs, values })
    }

    /// The value at `x`, held at the ends.
    #[must_use]
    pub fn at(&self, x: f64) -> Clamped {
        let place = Place::on(&self.xs, x);
        Clamped { value: place.between(&self.values), clamped: place.clamped }
    }

    /// The points of the axis, rising.
    #[must_use]
    pub fn xs(&self) -> &[f64] {
        &self.xs
    }

    /// The values at those points.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }
}

/// A value over engine load (percent) and engine speed (rpm), bilinear between its points.
#[derive(Clone, Debug, PartialEq)]
pub struct Map {
    loads_percent: Vec<f64>,
    speeds_rpm: Vec<f64>,
    /// One row per speed, one value per load.
    rows: Vec<Vec<f64>>,
}

impl Map {
    /// A map with `rows[speed][load]`.
    ///
    /// # Errors
    /// When an axis has fewer than two points or does not rise, a row is missing, too long or too short, or a number is
    /// not finite.
    pub fn new(loads_percent: Vec<f64>, speeds_rpm: Vec<f64>, rows: Vec<Vec<f64>>) -> Result<Self, GridError> {
        check_axis("load", &loads_percent)?;
        check_axis("speed", &speeds_rpm)?;
        if rows.len() != speeds_rpm.len() {
            let (row, found, wanted) = ("the list of rows".to_owned(), rows.len(), speeds_rpm.len());
            return Err(GridError::Ragged { row, found, axis: "speed", wanted });
        }
        for (row, speed) in rows.iter().zip(&speeds_rpm) {
            check_row(format!("the row at {speed} rpm"), row, "load", loads_percent.len())?;
        }
        Ok(Self { loads_percent, speeds_rpm, rows })
    }

    /// The value at a load (percent) and a speed (rpm), held at the edges of the grid.
    #[must_use]
    pub fn at(&self, load_percent: f64, speed_rpm: f64) -> Clamped {
        let load = Place::on(&self.loads_percent, load_percent);
        let speed = Place::on(&self.speeds_rpm, speed_rpm);
        let below = load.between(&self.rows[speed.below]);
        let above = load.between(&self.rows[speed.below + 1]);
        let value = below + (above - below) * speed.share;
        Clamped { value, clamped: load.clamped || speed.clamped }
    }

    /// The loads of the grid in percent, rising.
    #[must_use]
    pub fn loads_percent(&self) -> &[f64] {
        &self.loads_percent
    }

    /// The speeds of the grid in rpm, rising.
    #[must_use]
    pub fn speeds_rpm(&self) -> &[f64] {
        &self.speeds_rpm
    }

    /// Every value of the grid.
    pub fn values(&self) -> impl Iterator<Item = f64> {
        self.rows.iter().flatten().copied()
    }
}

/// Where a point lies on an axis: between which two points, and how far along.
struct Place {
    below: usize,
    share: f64,
    clamped: bool,
}

impl Place {
    fn on(axis: &[f64], x: f64) -> Self {
        let (first, last) = (axis[0], axis[axis.len() - 1]);
        // Not-a-number is answered like a value below the axis, and is clamped.
        let held = if x >= first { x.min(last) } else { first };
        let below = axis.partition_point(|point| *point <= held).clamp(1, axis.len() - 1) - 1;
        let share = (held - axis[below]) / (axis[below + 1] - axis[below]);
        Self { below, share, clamped: !(first..=last).contains(&x) }
    }

    fn between(&self, values: &[f64]) -> f64 {
        let (low, high) = (values[self.below], values[self.below + 1]);
        low + (high - low) * self.share
    }
}

fn check_axis(axis: &'static str, points: &[f64]) -> Result<(), GridError> {
    if points.len() < 2 {
        return Err(GridError::TooFew { axis, count: points.len() });
    }
    if points.iter().any(|point| !point.is_finite()) {
        return Err(GridError::NotFinite(axis));
    }
    match points.windows(2).find(|pair| pair[1] <= pair[0]) {
        Some(pair) => Err(GridError::NotRising { axis, before: pair[0], after: pair[1] }),
        None => Ok(()),
    }
}

fn check_row(row: String, values: &[f64], axis: &'static str, wanted: usize) -> Result<(), GridError> {
    if values.len() != wanted {
        return Err(GridError::Ragged { row, found: values.len(), axis, wanted });
    }
    if values.iter().any(|value| !value.is_finite()) {
        return Err(GridError::NotFinite("the grid"));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map() -> Map {
        Map::new(vec![0.0, 50.0, 100.0], vec![800.0, 2000.0], vec![vec![1.0, 2.0, 4.0], vec![3.0, 6.0, 12.0]]).unwrap()
    }

    #[test]
    fn grid_points_and_the_middle_are_exact() {
        assert_eq!(map().at(50.0, 2000.0), Clamped { value: 6.0, clamped: false });
        assert_eq!(map().at(100.0, 800.0), Clamped { value: 4.0, clamped: false });
        // Bilinear in the middle of a cell: the mean of its four corners, (1 + 2 + 3 + 6) / 4.
        assert_eq!(map().at(25.0, 1400.0), Clamped { value: 3.0, clamped: false });
    }

    #[test]
    fn outside_the_grid_the_edge_answers_and_says_so() {
        assert_eq!(map().at(150.0, 5000.0), Clamped { value: 12.0, clamped: true });
        assert_eq!(map().at(-5.0, 100.0), Clamped { value: 1.0, clamped: true });
        assert_eq!(map().at(f64::NAN, 800.0), Clamped { value: 1.0, clamped: true });
        let curve = Curve::new(vec![100.0, 200.0], vec![10.0, 20.0]).unwrap();
        assert_eq!(curve.at(150.0), Clamped { value: 15.0, clamped: false });
        assert_eq!(curve.at(900.0), Clamped { value: 20.0, clamped: true });
    }

    #[test]
    fn numbers_that_make_no_map_are_refused() {
        let row = vec![1.0, 2.0];
        let refused = |loads: &[f64], speeds: &[f64], rows: Vec<Vec<f64>>| {
            Map::new(loads.to_vec(), speeds.to_vec(), rows).unwrap_err().to_string()
        };
        assert_eq!(refused(&[0.0], &[1.0, 2.0], vec![]), "load has 1 points; a map needs at least 2");
        assert_eq!(
            refused(&[0.0, 0.0], &[1.0, 2.0], vec![row.clone(), row.clone()]),
            "load must rise from point to point, but 0 follows 0"
        );
        assert_eq!(
            refused(&[0.0, 1.0], &[1.0, 2.0], vec![row.clone()]),
            "the list of rows has 1 values, but speed has 2 points"
        );
        assert_eq!(
            refused(&[0.0, 1.0], &[1.0, 2.0], vec![row.clone(), vec![1.0]]),
            "the row at 2 rpm has 1 values, but load has 2 points"
        );
        assert_eq!(
            refused(&[0.0, 1.0], &[1.0, 2.0], vec![row, vec![1.0, f64::INFINITY]]),
            "the grid holds a number that is not finite"
        );
    }
}
