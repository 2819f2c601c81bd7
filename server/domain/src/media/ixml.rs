//! The iXML chunk of a wave file (open specification): the few fields that say when, how fast and what.

use quick_xml::Reader;
use quick_xml::events::Event;

use crate::timecode::Rate;

/// Elements in each other, beyond which a document is refused.
const DEPTH_LIMIT: usize = 32;

/// What iXML says; a field that is missing or not readable is absent.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Ixml {
    pub scene: Option<String>,
    pub take: Option<String>,
    /// The reel.
    pub tape: Option<String>,
    timecode_rate: Option<String>,
    drop: bool,
    pub samples_since_midnight: Option<u64>,
    pub timestamp_rate: Option<u32>,
}

/// Why the chunk is not readable.
#[derive(Debug, thiserror::Error)]
pub(super) enum IxmlError {
    #[error("it is not well-formed: {0}")]
    Xml(#[from] quick_xml::Error),
    #[error("it is not well-formed: {0}")]
    Escape(#[from] quick_xml::escape::EscapeError),
    #[error("its elements are too deep")]
    Depth,
}

impl Ixml {
    /// Reads a document. Entities other than XML's own five are not resolved.
    pub fn read(document: &str) -> Result<Self, IxmlError> {
        let mut reader = Reader::from_str(document);
        let mut path: Vec<String> = Vec::new();
        let mut value = String::new();
        let (mut ixml, mut high, mut low) = (Self::default(), None, None);
        loop {
            match reader.read_event()? {
                Event::Start(element) => {
                    path.push(element.name().as_ref().to_owned());
                    value.clear();
                    if path.len() > DEPTH_LIMIT {
                        return Err(IxmlError::Depth);
                    }
                }
                Event::Text(part) => value.push_str(&part),
                Event::CData(part) => value.push_str(&part),
                Event::GeneralRef(name) => {
                    let name: &str = &name;
                    value.push_str(&quick_xml::escape::unescape(&format!("&{name};"))?);
                }
                Event::End(_) => {
                    match path.join("/").as_str() {
                        "BWFXML/SPEED/TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI" => high = number(&value),
                        "BWFXML/SPEED/TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO" => low = number(&value),
                        name => ixml.set(name, value.trim()),
                    }
                    path.pop();
                    value.clear();
                }
                Event::Eof => break,
                _ => {}
            }
        }
        ixml.samples_since_midnight =
            low.map(|low: u32| u64::from(high.unwrap_or(0_u32)) << 32 | u64::from(low));
        Ok(ixml)
    }

    fn set(&mut self, name: &str, value: &str) {
        let text = || Some(value.to_owned()).filter(|text| !text.is_empty());
        match name {
            "BWFXML/SCENE" => self.scene = text(),
            "BWFXML/TAKE" => self.take = text(),
            "BWFXML/TAPE" => self.tape = text(),
            "BWFXML/SPEED/TIMECODE_RATE" => self.timecode_rate = text(),
            "BWFXML/SPEED/TIMECODE_FLAG" => self.drop = value.eq_ignore_ascii_case("DF"),
            "BWFXML/SPEED/TIMESTAMP_SAMPLE_RATE" => self.timestamp_rate = number(value),
            _ => {}
        }
    }

    /// The rate and counting of labels, where both are known.
    pub fn rate(&self) -> Option<Rate> {
        let rate: Rate = self.timecode_rate.as_deref()?.parse().ok()?;
        Some(rate.with_drop(self.drop))
    }
}

fn number(text: &str) -> Option<u32> {
    text.trim().parse().ok()
}
