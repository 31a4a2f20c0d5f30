//! The command line of noonfall.

fn main() {}
