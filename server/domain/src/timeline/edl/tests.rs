//! Lists that no outside sample holds: bad input, keys, reverse, and round trips.
