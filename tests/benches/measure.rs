//! b
fn main(){}
