//! Where every clip stands in the timeline and which frames of its media it touches.
//!
//! "Used" means present: a clip hidden below another one is still in the file. The range is the
//! clip's own, longer by the transitions on both sides, cut by every parent's `source_range`, and
//! at changed speed the longer of its length and its length times the speed.

use super::time::{Range, Time, frame_length, stretched};
use super::tree::{Item, Kind, Media};

/// A clip with its place. All spans are in ticks.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    pub item: Item,
    pub media: Media,
    /// Index of the child of the top stack that it stands in.
    pub track_index: usize,
    /// Name and kind of the nearest track around it.
    pub track_name: String,
    pub track_kind: Option<String>,
    /// It and everything around it are switched on.
    pub enabled: bool,
    /// Its own range in its media's time; none when the file gives none.
    pub source: Option<Range>,
    /// Only for a clip that stands in a track itself.
    pub with_transitions: Option<Span>,
    /// After the cuts of all parents; none when they leave nothing.
    pub trimmed: Option<Span>,
    /// Where its own first frame stands in the timeline, in ticks from its beginning.
    pub begins: i128,
    /// In the timeline, from its beginning.
    pub record: Option<Span>,
    pub record_rate: f64,
    /// The same with transitions: on screen or heard.
    pub shown: Option<Span>,
    /// Frames of the media touched.
    pub used: Option<Span>,
    pub dissolves: bool,
    pub wipes: bool,
}

/// From, and up to but not including, in ticks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    pub start: i128,
    pub end: i128,
}

impl Span {
    fn cut(self, by: Self) -> Self {
        Self {
            start: self.start.max(by.start),
            end: self.end.min(by.end),
        }
    }

    fn moved(self, by: i128) -> Self {
        Self {
            start: self.start + by,
            end: self.end + by,
        }
    }

    fn filled(self) -> Option<Self> {
        (self.start < self.end).then_some(self)
    }
}

/// The range of an item in its own time: what it was cut to, or all it has.
pub(super) fn trimmed_range(item: &Item) -> Option<Range> {
    item.source_range.or_else(|| match &item.kind {
        Kind::Clip(media) => media.available,
        Kind::Gap | Kind::Transition { .. } => None,
        Kind::Stack(children) => {
            let longest = children.iter().filter_map(trimmed_range);
            from_zero(longest.map(|range| range.duration).reduce(longer)?)
        }
        Kind::Track { children, .. } => {
            let lengths = children.iter().filter_map(trimmed_range);
            let sum = lengths.map(|range| range.duration).reduce(Time::plus)?;
            // a transition at an end of the track has nothing to overlap there, so it adds its part
            let head = children.first().map_or(0, |first| offsets(first).0);
            let tail = children.last().map_or(0, |last| offsets(last).1);
            let ticks = sum.ticks + head + tail;
            from_zero(Time { ticks, ..sum })
        }
    })
}

fn from_zero(duration: Time) -> Option<Range> {
    let start = Time::zero(duration.rate);
    Some(Range { start, duration })
}

fn longer(a: Time, b: Time) -> Time {
    if b.ticks > a.ticks { b } else { a }
}

/// In and out offset of a transition that is switched on; 0 for everything else.
fn offsets(item: &Item) -> (i128, i128) {
    match item.kind {
        Kind::Transition {
            in_offset,
            out_offset,
            ..
        } if item.enabled => (in_offset.ticks, out_offset.ticks),
        _ => (0, 0),
    }
}

/// All clips, track by track, in the order of the file.
pub(super) fn clips(root: &Item) -> Vec<Placed> {
    let mut clips = Vec::new();
    let mut parents = Vec::new();
    descend(
        root,
        NOWHERE,
        Neighbours::default(),
        &mut parents,
        &mut clips,
    );
    clips
}

/// What stands on both sides of an item in its track.
#[derive(Debug, Clone, Copy, Default)]
struct Neighbours {
    /// How far a transition before it reaches into it from ahead of its start.
    head: i128,
    /// How far it goes on past its end.
    tail: i128,
    dissolve: bool,
    wipe: bool,
}

/// An item on the way from the top down, and where it begins in its parent.
struct Step<'a> {
    item: &'a Item,
    range: Option<Range>,
    start: Time,
    neighbours: Neighbours,
}

fn descend<'a>(
    item: &'a Item,
    start: Time,
    neighbours: Neighbours,
    above: &mut Vec<Step<'a>>,
    clips: &mut Vec<Placed>,
) {
    above.push(Step {
        item,
        range: trimmed_range(item),
        start,
        neighbours,
    });
    match &item.kind {
        Kind::Clip(media) => clips.extend(place(item, media, above)),
        Kind::Stack(children) => {
            for child in children {
                descend(child, NOWHERE, Neighbours::default(), above, clips);
            }
        }
        Kind::Track { children, .. } => track(children, above, clips),
        Kind::Gap | Kind::Transition { .. } => {}
    }
    above.pop();
}

fn track<'a>(children: &'a [Item], above: &mut Vec<Step<'a>>, clips: &mut Vec<Placed>) {
    let mut start = NOWHERE;
    for (index, child) in children.iter().enumerate() {
        let before = index.checked_sub(1).and_then(|at| children.get(at));
        let after = children.get(index + 1);
        let is = |wanted: bool| {
            [before, after].into_iter().flatten().any(|item| {
                item.enabled && matches!(item.kind, Kind::Transition { wipe, .. } if wipe == wanted)
            })
        };
        let neighbours = Neighbours {
            head: before.map_or(0, |item| offsets(item).0),
            tail: after.map_or(0, |item| offsets(item).1),
            dissolve: is(false),
            wipe: is(true),
        };
        descend(child, start, neighbours, above, clips);
        if let Some(range) = trimmed_range(child) {
            start = start.plus(range.duration);
        }
    }
}

/// The beginning, which has no rate of its own.
const NOWHERE: Time = Time {
    ticks: 0,
    rate: 0.0,
};

/// Places the clip that the last step leads to.
fn place(item: &Item, media: &Media, steps: &[Step<'_>]) -> Option<Placed> {
    let step = steps.last()?;
    let source = step.range;
    let own = source.map_or(Span { start: 0, end: 0 }, span);
    let wide = Span {
        start: own.start - step.neighbours.head,
        end: own.end + step.neighbours.tail,
    };
    let (mut trimmed, mut shown, mut offset) = (own, wide, 0);
    for pair in steps.windows(2).rev() {
        let [parent, child] = pair else { continue };
        offset += child.start.ticks - child.range.map_or(0, |range| range.start.ticks);
        if let Some(window) = parent.item.source_range.map(span) {
            trimmed = trimmed.cut(window.moved(-offset));
            shown = shown.cut(widened(window, parent).moved(-offset));
        }
    }
    // the timeline begins where the top stack is cut to begin
    let top = steps.first().and_then(|step| step.range);
    offset -= top.map_or(0, |range| range.start.ticks);
    let trimmed = source.and(trimmed.filled());
    let shown = source.and(shown.filled());
    let parent = steps.iter().rev().nth(1);
    let in_track = parent.is_some_and(|parent| parent.item.schema() == "Track");
    let (track_name, track_kind) = nearest_track(steps).unzip();
    Some(Placed {
        item: item.clone(),
        media: media.clone(),
        track_index: track_index(steps),
        track_name: track_name.unwrap_or_default(),
        track_kind,
        enabled: steps.iter().all(|step| step.item.enabled),
        source,
        with_transitions: source.and(in_track.then_some(wide)),
        trimmed,
        begins: own.start + offset,
        record: trimmed.map(|span| span.moved(offset)),
        record_rate: record_rate(steps),
        shown: shown.map(|span| span.moved(offset)),
        used: source.and_then(|source| touched(item, source, shown?)),
        dissolves: step.neighbours.dissolve,
        wipes: step.neighbours.wipe,
    })
}

fn span(range: Range) -> Span {
    Span {
        start: range.start.ticks,
        end: range.end(),
    }
}

/// Name and kind.
fn nearest_track(steps: &[Step<'_>]) -> Option<(String, String)> {
    steps.iter().rev().find_map(|step| match &step.item.kind {
        Kind::Track { kind, .. } => Some((step.item.name.clone(), kind.clone())),
        _ => None,
    })
}

/// The window of a parent for what it touches: longer by its own transitions and its own speed.
fn widened(window: Span, parent: &Step<'_>) -> Span {
    let length = stretched(window.end - window.start, speed(parent.item).unwrap_or(1.0));
    Span {
        start: window.start - parent.neighbours.head,
        end: window.start + length + parent.neighbours.tail,
    }
}

/// The media frames that a clip touches when `shown` of it is on screen or heard.
fn touched(item: &Item, source: Range, shown: Span) -> Option<Span> {
    let start = shown.start;
    match speed(item) {
        Some(0.0) => {
            let start = source.start.ticks;
            let end = start + frame_length(source.duration.rate);
            Some(Span { start, end })
        }
        Some(scalar) => {
            let end = start + stretched(shown.end - start, scalar);
            Some(Span { start, end })
        }
        None => Some(shown),
    }
}

/// The speed that an item's effects give it: 0 is a freeze; none when they leave it alone.
pub(super) fn speed(item: &Item) -> Option<f64> {
    let effects = item.effects.iter().filter(|effect| effect.enabled);
    effects
        .filter_map(|effect| match effect.schema.as_str() {
            "FreezeFrame" => Some(0.0),
            "LinearTimeWarp" => effect.time_scalar,
            _ => None,
        })
        .reduce(|a, b| a * b)
}

/// Times of different rates add up at the highest: that of the clip, of all that precedes it, and
/// of the compositions around it below the top.
fn record_rate(steps: &[Step<'_>]) -> f64 {
    let rates = steps.iter().skip(1).map(|step| {
        let own = step.range.map_or(0.0, |range| range.start.rate);
        own.max(step.start.rate)
    });
    rates.fold(0.0, f64::max)
}

fn track_index(steps: &[Step<'_>]) -> usize {
    let Some([top, child]) = steps.first_chunk::<2>() else {
        return 0;
    };
    let children = top.item.children().iter();
    children
        .take_while(|other| !std::ptr::eq(*other, child.item))
        .count()
}
