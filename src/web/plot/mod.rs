//! Drawings for pages: the soot gauge and line plots, from numbers to SVG.
//!
//! Never computes what the filter does, and never uses inline style, ids or scripts: a drawing carries class names only, so that the
//! stylesheet decides its colours on paper, in the light and in the dark.

pub mod axis;
pub mod course;
pub mod gauge;
pub mod labels;
pub mod lesson;
pub mod line;
pub mod shares;
pub mod svg;
