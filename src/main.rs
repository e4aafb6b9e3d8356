//! s
fn main(){}
