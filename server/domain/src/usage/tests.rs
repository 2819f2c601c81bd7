//! Unions by their laws, and the difference of two small cuts.
