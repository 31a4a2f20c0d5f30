//! What a site will really offer: clear sky, open horizon, and what there is to see.
