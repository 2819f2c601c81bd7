//! Differently faulty papers: each fault is named, taking it away turns the answer, and no fault
//! hides another. Hand-made; the good papers are the ones in `super`.

mod grounds;
mod licences;
mod releases;

use super::*;

/// What is broken, the reason that must be named, and the state that follows.
type Break<T> = (fn(&mut T, &mut Question), ReasonCode, State);
