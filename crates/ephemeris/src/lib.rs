//! Where the Sun, the Moon, the planets and the observer are.
