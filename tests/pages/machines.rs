//! The machines' pages.
