//! Where the Moon's shadow falls.
