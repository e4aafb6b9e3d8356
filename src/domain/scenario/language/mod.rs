//! The little language of templates: numbers with units, words, yes and no; no loops, no recursion, no I/O.
//!
//! An expression is at most [`LONGEST`](super::limits::LONGEST) bytes and nests at most
//! [`DEEPEST`](super::limits::DEEPEST) deep; both are checked before it is read.

mod names;
mod parse;
mod text;
mod value;

pub use names::{Named, names};
pub use parse::parse;
pub use text::{Forms, Piece, Text};
pub use value::{TypeError, Value};

use crate::units::Quantity;

/// What is wrong with an expression, and where in its text.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message} (at \"{near}\")")]
pub struct Misread {
    /// Byte in the expression's text.
    pub at: usize,
    /// What stands there.
    pub near: String,
    /// What is wrong, and what to do.
    pub message: String,
}

/// A function of the model or of arithmetic.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Function {
    /// Whether an action is permitted.
    Permitted,
    /// Whether a lamp is lit.
    Lit,
    /// Whether a hazard is present.
    Hazard,
    /// Whether a starting condition is missing.
    Open,
    /// Soot load after a time at these readings.
    SootAfter,
    /// Soot load after a time of active regeneration.
    SootAfterActive,
    /// Soot load after a time of parked regeneration.
    SootAfterParked,
    /// Time until a soot load is reached.
    HoursTo,
    /// Soot load at which these readings would settle.
    BalanceLoad,
    /// Outlet temperature at which this work would settle.
    SteadyOutlet,
    /// Soot load at a time of the shift.
    SootAt,
    /// Outlet temperature at a time of the shift.
    OutletAt,
    /// Rounded to a step.
    RoundTo,
    /// The smaller.
    Min,
    /// The larger.
    Max,
}

impl Function {
    const ALL: [(Self, &'static str, usize); 15] = [
        (Self::Permitted, "permitted", 1),
        (Self::Lit, "lit", 1),
        (Self::Hazard, "hazard", 1),
        (Self::Open, "open", 1),
        (Self::SootAfter, "soot_after", 1),
        (Self::SootAfterActive, "soot_after_active", 1),
        (Self::SootAfterParked, "soot_after_parked", 1),
        (Self::HoursTo, "hours_to", 1),
        (Self::BalanceLoad, "balance_load", 0),
        (Self::SteadyOutlet, "steady_outlet", 0),
        (Self::SootAt, "soot_at", 1),
        (Self::OutletAt, "outlet_at", 1),
        (Self::RoundTo, "round_to", 2),
        (Self::Min, "min", 2),
        (Self::Max, "max", 2),
    ];

    fn find(name: &str) -> Option<(Self, usize)> {
        Self::ALL.iter().find(|(_, known, _)| *known == name).map(|(function, _, count)| (*function, *count))
    }

    /// Whether it asks the model, and so needs the situation.
    #[must_use]
    pub const fn asks_model(self) -> bool {
        !matches!(self, Self::RoundTo | Self::Min | Self::Max)
    }
}

/// An operator between two values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operator {
    /// `+`
    Add,
    /// `-`
    Subtract,
    /// `*`
    Multiply,
    /// `/`
    Divide,
    /// `=`
    Equal,
    /// `!=`
    NotEqual,
    /// `<`
    Less,
    /// `<=`
    AtMost,
    /// `>`
    More,
    /// `>=`
    AtLeast,
    /// `and`
    And,
    /// `or`
    Or,
}

/// An expression that has been read.
#[derive(Clone, Debug, PartialEq)]
pub enum Expr {
    /// A number with its unit.
    Number(Quantity),
    /// Text in quotes.
    Quoted(String),
    /// A drawn or worked-out value, a word, or `route`, `band`, `derated`, `yes`, `no`.
    Name(String),
    /// `machine.` and one of its figures.
    Machine(String),
    /// `shift.` and one of its figures.
    Shift(String),
    /// A function and its arguments.
    Call(Function, Vec<Expr>),
    /// Two values and what stands between them.
    Binary(Operator, Box<Expr>, Box<Expr>),
    /// `not`.
    Not(Box<Expr>),
    /// A minus sign.
    Negate(Box<Expr>),
}

impl Expr {
    /// Calls `visit` for this expression and every one inside it.
    pub fn walk<'e>(&'e self, visit: &mut impl FnMut(&'e Self)) {
        visit(self);
        match self {
            Self::Call(_, arguments) => arguments.iter().for_each(|argument| argument.walk(visit)),
            Self::Binary(_, left, right) => {
                left.walk(visit);
                right.walk(visit);
            }
            Self::Not(inner) | Self::Negate(inner) => inner.walk(visit),
            Self::Number(_) | Self::Quoted(_) | Self::Name(_) | Self::Machine(_) | Self::Shift(_) => {}
        }
    }
}
