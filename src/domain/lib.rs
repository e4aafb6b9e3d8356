//! The pure core of Sootmark: what a particulate filter does, what a person must do about it, how that is asked,
//! how an answer is judged, and what a series of answers proves.
//!
//! Nothing here reads a file, a clock, a database or a network, and nothing draws from a global random source: text,
//! times and seeds are arguments. The same arguments give the same bytes on every machine.
//!
//! | module | for | may use |
//! |---|---|---|
//! | [`units`] | numbers that carry their unit | nobody |
//! | [`document`] | reading a file of the bank and reporting every problem in it | `units` |
//! | [`aftertreatment`] | the machine, its filter, the judgement | `units`, `document` |
//! | [`scenario`] | templates, questions, misconceptions, grading one answer | all above |
//! | [`examination`] | schemes, forms, grading a sitting | all above, `bank` |
//! | [`bank`] | all documents of the question bank, read and versioned | all above |
//! | [`certification`] | who is qualified for what, until when | `examination`'s outcomes |
//! | [`letters`] | kinds of letters, from when one is due | `units` |
//! | [`statistics`] | what a few answers say, and how far to trust it | nobody |
//! | [`people`] | roles and what each may do | `visible` |
//! | [`visible`] | whether a text says something to whoever reads it | nobody |

pub mod aftertreatment;
pub mod bank;
pub mod certification;
pub mod document;
pub mod examination;
pub mod letters;
pub mod people;
pub mod scenario;
pub mod statistics;
pub mod units;
pub mod visible;
