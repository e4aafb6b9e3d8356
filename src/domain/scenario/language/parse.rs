//! Reads one expression. Knows the grammar and nothing of what the names mean.

use super::{Expr, Function, Misread, Operator, names};
use crate::aftertreatment::situation::Enclosure;
use crate::document::nearest;
use crate::scenario::limits::{DEEPEST, LONGEST, MOST_PARTS};
use crate::units::{Quantity, Unit};
use winnow::ascii::{digit1, multispace0};
use winnow::combinator::{alt, cut_err, delimited, fail, opt, preceded, repeat, separated, terminated};
use winnow::error::{ContextError, ErrMode, StrContext};
use winnow::prelude::*;
use winnow::token::{one_of, take_till, take_while};

type Read<T> = Result<T, ErrMode<ContextError>>;

/// Reads an expression.
///
/// # Errors
/// Where the text stops making sense, with what was expected there.
pub fn parse(text: &str) -> Result<Expr, Misread> {
    bounded(text)?;
    let whole = delimited(multispace0, disjunction, multispace0).parse(text);
    let whole = whole.map_err(|error| {
        let at = error.offset();
        let expected = error.inner().context().find_map(|context| match context {
            StrContext::Label(label) => Some(*label),
            _ => None,
        });
        let near: String = text[at..].chars().take(20).collect();
        let message = match (expected, near.is_empty()) {
            (Some(label), _) => format!("{label}{}", meant(label, &text[at..])),
            (None, true) => "something is missing at the end".to_owned(),
            (None, false) => "this is not understood; write a number with its unit, a name, or an operator".to_owned(),
        };
        Misread { at, near, message }
    })?;
    let mut parts = 0_usize;
    whole.walk(&mut |_| parts += 1);
    if parts > MOST_PARTS {
        let message = format!("an expression has at most {MOST_PARTS} parts; divide it with [let]");
        return Err(Misread { at: 0, near: text.chars().take(20).collect(), message });
    }
    Ok(whole)
}

const NO_SUCH_FUNCTION: &str = "there is no such function";
const NO_SUCH_UNIT: &str = "this unit is not known; write %, °C, °F, K, rpm, s, min, h, g, mg/s, L, g/L, ppm or m";

/// What was probably meant where a function is not known.
fn meant(label: &str, rest: &str) -> String {
    let word = names(rest).next().filter(|_| label == NO_SUCH_FUNCTION);
    let near = word.and_then(|word| nearest(word.name, Function::ALL.iter().map(|(_, known, _)| *known)));
    near.map(|near| format!("; did you mean \"{near}\"?")).unwrap_or_default()
}

/// Refuses what could exhaust the reader before it starts.
fn bounded(text: &str) -> Result<(), Misread> {
    let misread = |at, message: String| Err(Misread { at, near: text.chars().take(20).collect(), message });
    if text.len() > LONGEST {
        return misread(LONGEST, format!("an expression is at most {LONGEST} bytes; divide it with [let]"));
    }
    let mut depth = 0usize;
    let mut signs = 0usize;
    let mut quoted = false;
    for (at, letter) in text.char_indices() {
        match letter {
            '"' => quoted = !quoted,
            _ if quoted => {}
            '(' => depth += 1,
            ')' => depth = depth.saturating_sub(1),
            _ => {}
        }
        signs = match letter {
            '-' => signs + 1,
            ' ' | '\t' => signs,
            _ => 0,
        };
        if depth > DEEPEST || signs > DEEPEST {
            return misread(at, format!("this nests more than {DEEPEST} deep; divide it with [let]"));
        }
    }
    if text.split_whitespace().filter(|word| *word == "not").count() > DEEPEST {
        return misread(0, format!("an expression has at most {DEEPEST} times \"not\""));
    }
    Ok(())
}

fn token<'t, T>(
    inner: impl Parser<&'t str, T, ErrMode<ContextError>>,
) -> impl Parser<&'t str, T, ErrMode<ContextError>> {
    terminated(inner, multispace0)
}

/// A word of the language, not the beginning of a longer name.
fn keyword<'t>(word: &'static str) -> impl Parser<&'t str, (), ErrMode<ContextError>> {
    token(name.verify(move |found: &str| found == word)).void()
}

fn name<'t>(input: &mut &'t str) -> Read<&'t str> {
    (
        one_of(|c: char| c.is_ascii_lowercase()),
        take_while(0.., |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_'),
    )
        .take()
        .parse_next(input)
}

fn chain<'t>(
    input: &mut &'t str,
    mut side: impl FnMut(&mut &'t str) -> Read<Expr>,
    mut operator: impl FnMut(&mut &'t str) -> Read<Operator>,
) -> Read<Expr> {
    let first = side.parse_next(input)?;
    let rest: Vec<(Operator, Expr)> = repeat(0.., (operator.by_ref(), cut_err(side.by_ref()))).parse_next(input)?;
    Ok(rest.into_iter().fold(first, |left, (op, right)| Expr::Binary(op, Box::new(left), Box::new(right))))
}

fn disjunction(input: &mut &str) -> Read<Expr> {
    chain(input, conjunction, |i: &mut &str| keyword("or").value(Operator::Or).parse_next(i))
}

fn conjunction(input: &mut &str) -> Read<Expr> {
    chain(input, negation, |i: &mut &str| keyword("and").value(Operator::And).parse_next(i))
}

fn negation(input: &mut &str) -> Read<Expr> {
    let nots: usize = repeat(0.., keyword("not")).parse_next(input)?;
    let inner = comparison(input)?;
    Ok(if nots % 2 == 1 { Expr::Not(Box::new(inner)) } else { inner })
}

fn comparison(input: &mut &str) -> Read<Expr> {
    let left = sum(input)?;
    let operator = token(alt((
        "<=".value(Operator::AtMost),
        ">=".value(Operator::AtLeast),
        "!=".value(Operator::NotEqual),
        "<".value(Operator::Less),
        ">".value(Operator::More),
        "=".value(Operator::Equal),
    )));
    let right = opt((operator, cut_err(sum))).parse_next(input)?;
    Ok(match right {
        Some((operator, right)) => Expr::Binary(operator, Box::new(left), Box::new(right)),
        None => left,
    })
}

fn sum(input: &mut &str) -> Read<Expr> {
    chain(input, product, |i: &mut &str| {
        token(alt(('+'.value(Operator::Add), '-'.value(Operator::Subtract)))).parse_next(i)
    })
}

fn product(input: &mut &str) -> Read<Expr> {
    chain(input, signed, |i: &mut &str| {
        token(alt(('*'.value(Operator::Multiply), '/'.value(Operator::Divide)))).parse_next(i)
    })
}

fn signed(input: &mut &str) -> Read<Expr> {
    let minuses: usize = repeat(0.., token('-').void()).parse_next(input)?;
    let inner = atom(input)?;
    Ok(if minuses % 2 == 1 { Expr::Negate(Box::new(inner)) } else { inner })
}

fn atom(input: &mut &str) -> Read<Expr> {
    alt((
        delimited(
            token('('),
            cut_err(disjunction),
            cut_err(token(')')).context(StrContext::Label("a closing parenthesis is missing")),
        ),
        number,
        quoted,
        named,
    ))
    .parse_next(input)
}

fn number(input: &mut &str) -> Read<Expr> {
    let digits = (digit1, opt(preceded('.', digit1))).take().parse_next(input)?;
    let rest = *input;
    let unit_text = preceded(
        multispace0,
        alt(("°C", "°F", "mg/s", "g/L", "g/l", "%", take_while(0.., |c: char| c.is_ascii_alphabetic()))),
    )
    .parse_next(input)?;
    let unit = match Unit::from_text(unit_text) {
        Some(unit) => unit,
        // "5 and x", "5 or x": the word belongs to what follows.
        None if matches!(unit_text, "and" | "or") => {
            *input = rest;
            Unit::One
        }
        None => {
            *input = rest.trim_start();
            return cut_err(fail.context(StrContext::Label(NO_SUCH_UNIT))).parse_next(input);
        }
    };
    multispace0.parse_next(input)?;
    let value = digits.parse().ok().filter(|value: &f64| value.is_finite() && *value < 1.0e12);
    match value {
        Some(value) => Ok(Expr::Number(Quantity::new(value, unit))),
        None => cut_err(fail.context(StrContext::Label("this number is too large"))).parse_next(input),
    }
}

fn quoted(input: &mut &str) -> Read<Expr> {
    let text =
        delimited('"', take_till(0.., '"'), cut_err('"').context(StrContext::Label("a closing quote is missing")));
    token(text).map(|text: &str| Expr::Quoted(text.to_owned())).parse_next(input)
}

fn named(input: &mut &str) -> Read<Expr> {
    let before = *input;
    let word = token(name).parse_next(input)?;
    if matches!(word, "and" | "or" | "not") {
        *input = before;
        return fail.parse_next(input);
    }
    if word == "machine" {
        let mut figure = cut_err(preceded('.', token(name)))
            .context(StrContext::Label("write machine. and a figure, such as machine.stop_level"));
        return figure.parse_next(input).map(|figure| Expr::Machine(figure.to_owned()));
    }
    if word == "shift" {
        let mut figure = cut_err(preceded('.', token(name)))
            .context(StrContext::Label("write shift. and a figure, such as shift.hours"));
        return figure.parse_next(input).map(|figure| Expr::Shift(figure.to_owned()));
    }
    let arguments: Option<Vec<Expr>> = opt(delimited(
        token('('),
        separated(0.., disjunction, token(',')),
        cut_err(token(')')).context(StrContext::Label("a closing parenthesis is missing")),
    ))
    .parse_next(input)?;
    match (arguments, Function::find(word)) {
        (None, None) => Ok(Expr::Name(word.to_owned())),
        // "open" is a kind of place and, with parentheses, a function.
        (None, Some(_)) if Enclosure::from_id(word).is_some() => Ok(Expr::Name(word.to_owned())),
        (Some(arguments), Some((function, count))) if arguments.len() == count => Ok(Expr::Call(function, arguments)),
        (arguments, known) => {
            *input = before;
            let label = match (arguments, known) {
                (None, Some(_)) => "this function needs parentheses after it",
                (Some(_), None) => NO_SUCH_FUNCTION,
                _ => "this function has another number of values in its parentheses",
            };
            cut_err(fail.context(StrContext::Label(label))).parse_next(input)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(text: &str, expected: &str) {
        let read = parse(text).map(|expr| format!("{expr:?}")).unwrap_or_else(|misread| misread.to_string());
        assert_eq!(read, expected, "{text}");
    }

    #[test]
    fn precedence_is_as_at_school() {
        check(
            "1 + 2 * 3",
            "Binary(Add, Number(Quantity { value: 1.0, unit: One }), Binary(Multiply, Number(Quantity { value: 2.0, unit: One }), Number(Quantity { value: 3.0, unit: One })))",
        );
        check("not a and b", "Binary(And, Not(Name(\"a\")), Name(\"b\"))");
        check("a - b - c", "Binary(Subtract, Binary(Subtract, Name(\"a\"), Name(\"b\")), Name(\"c\"))");
    }

    #[test]
    fn units_names_and_calls() {
        check(
            "soot_after(2 h) > 77 %",
            "Binary(More, Call(SootAfter, [Number(Quantity { value: 2.0, unit: Hour })]), Number(Quantity { value: 77.0, unit: Percent }))",
        );
        check("machine.stop_level", "Machine(\"stop_level\")");
        check("band = \"very high\"", "Binary(Equal, Name(\"band\"), Quoted(\"very high\"))");
        check("open", "Name(\"open\")");
        check("open(neutral)", "Call(Open, [Name(\"neutral\")])");
        check("5 and x", "Binary(And, Number(Quantity { value: 5.0, unit: One }), Name(\"x\"))");
    }

    #[test]
    fn errors_say_where_and_what() {
        check("load > ", "something is missing at the end (at \"\")");
        check(
            "5 furlongs",
            "this unit is not known; write %, °C, °F, K, rpm, s, min, h, g, mg/s, L, g/L, ppm or m (at \"furlongs\")",
        );
        check("sin(3)", "there is no such function; did you mean \"min\"? (at \"sin(3)\")");
        check("logarithm(3)", "there is no such function (at \"logarithm(3)\")");
        check("(1 + 2", "a closing parenthesis is missing (at \"\")");
        check("balance_load", "this function needs parentheses after it (at \"balance_load\")");
        check(
            "load load",
            "this is not understood; write a number with its unit, a name, or an operator (at \"load\")",
        );
    }

    #[test]
    fn the_worst_input_is_refused_before_it_is_read() {
        for text in ["(".repeat(40), "-".repeat(1000), "not ".repeat(100), "1+".repeat(2000), "1+".repeat(400) + "1"] {
            assert!(parse(&text).is_err());
        }
    }

    proptest! {
        #[test]
        fn no_text_panics(text in ".{0,200}") {
            let _ = parse(&text);
        }

        #[test]
        fn no_likely_text_panics(text in "[a-z0-9 +*/()<>=.%\"-]{0,200}") {
            let _ = parse(&text);
        }
    }
}
