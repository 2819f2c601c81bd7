//! A small layer over the XML reader: elements of one namespace, their text, and nothing that could grow
//! without end. A document type declaration is refused, so there are no entities to expand.

use std::io::{self, BufRead, Read};

use quick_xml::XmlVersion;
use quick_xml::events::{BytesStart, Event};
use quick_xml::name::ResolveResult;
use quick_xml::reader::NsReader;

use super::names::is_xml;
use super::read::ListError;

/// The most bytes of one tag or one piece of text. Paths on the systems in use are below 32 KiB.
const PIECE_LIMIT: usize = 1 << 20;
/// Elements in each other, beyond which a document is refused.
const DEPTH_LIMIT: usize = 1_000;

/// An element's beginning.
#[derive(Debug)]
pub struct Start {
    /// Without prefix.
    pub name: String,
    /// False where the element is of another namespace than the document's.
    pub own: bool,
    attributes: Vec<(String, String)>,
}

impl Start {
    /// The value of an attribute.
    pub fn attribute(&self, name: &str) -> Option<&str> {
        let found = self.attributes.iter().find(|(known, _)| known == name);
        found.map(|(_, value)| value.as_str())
    }
}

/// Reads a document from its root on.
pub struct Pull<R> {
    reader: NsReader<Guard<R>>,
    namespace: String,
    buffer: Vec<u8>,
    depth: usize,
}

/// What comes next inside an element that holds elements.
enum Piece {
    Start(Start),
    End,
    Text(String),
    Nothing,
    Eof,
}

impl<R: BufRead> Pull<R> {
    /// Opens a document and gives its root element with its namespace.
    pub fn open(reader: R) -> Result<(Self, Start, String), ListError> {
        let mut reader = NsReader::from_reader(Guard { reader, left: 0 });
        reader.config_mut().expand_empty_elements = true;
        let mut pull = Self {
            reader,
            namespace: String::new(),
            buffer: Vec::new(),
            depth: 0,
        };
        loop {
            match pull.piece()? {
                Piece::Start(root) => {
                    let namespace = pull.namespace.clone();
                    return Ok((pull, root, namespace));
                }
                Piece::Nothing => {}
                Piece::Text(text) if is_blank(&text) => {}
                Piece::Text(_) | Piece::End | Piece::Eof => return Err(ListError::NotXml),
            }
        }
    }

    /// The next element inside the current one; `None` at its end.
    pub fn child(&mut self) -> Result<Option<Start>, ListError> {
        loop {
            match self.piece()? {
                Piece::Start(start) => return Ok(Some(start)),
                Piece::End => return Ok(None),
                Piece::Text(text) if is_blank(&text) => {}
                Piece::Text(text) => return Err(ListError::StrayText(shorten(&text))),
                Piece::Nothing => {}
                Piece::Eof => return Err(ListError::CutOff),
            }
        }
    }

    /// The text of the current element, to its end.
    pub fn text(&mut self) -> Result<String, ListError> {
        let mut text = String::new();
        loop {
            match self.piece()? {
                Piece::Text(part) => {
                    text.push_str(&part);
                    if text.len() > PIECE_LIMIT {
                        return Err(ListError::TooLong);
                    }
                }
                Piece::End => return Ok(text),
                Piece::Start(start) => return Err(ListError::StrayElement(start.name)),
                Piece::Nothing => {}
                Piece::Eof => return Err(ListError::CutOff),
            }
        }
    }

    /// Passes over the rest of the current element, whatever it holds.
    pub fn skip(&mut self) -> Result<(), ListError> {
        let mut inside = 1_usize;
        while inside > 0 {
            match self.piece()? {
                Piece::Start(_) => inside += 1,
                Piece::End => inside -= 1,
                Piece::Eof => return Err(ListError::CutOff),
                Piece::Text(_) | Piece::Nothing => {}
            }
        }
        Ok(())
    }

    /// Makes sure that nothing but white space and comments follows the root element.
    pub fn finish(&mut self) -> Result<(), ListError> {
        loop {
            match self.piece()? {
                Piece::Eof => return Ok(()),
                Piece::Nothing => {}
                Piece::Text(text) if is_blank(&text) => {}
                Piece::Text(text) => return Err(ListError::StrayText(shorten(&text))),
                Piece::Start(start) => return Err(ListError::StrayElement(start.name)),
                Piece::End => return Err(ListError::NotXml),
            }
        }
    }

    fn piece(&mut self) -> Result<Piece, ListError> {
        self.buffer.clear();
        self.reader.get_mut().left = PIECE_LIMIT;
        let (namespace, event) = self.reader.read_resolved_event_into(&mut self.buffer)?;
        match event {
            Event::Start(element) => {
                let found = match namespace {
                    ResolveResult::Bound(found) => found.0,
                    _ => "",
                };
                if self.depth == 0 {
                    self.namespace = found.to_owned();
                }
                self.depth += 1;
                if self.depth > DEPTH_LIMIT {
                    return Err(ListError::TooDeep);
                }
                Ok(Piece::Start(start(&element, found == self.namespace)?))
            }
            Event::End(_) => {
                self.depth -= 1;
                Ok(Piece::End)
            }
            Event::Text(text) => Ok(Piece::Text(checked(text.xml10_content().into_owned())?)),
            Event::CData(text) => Ok(Piece::Text(checked(text.xml10_content().into_owned())?)),
            Event::GeneralRef(name) => {
                let c = match name.resolve_char_ref()? {
                    Some(c) => c,
                    None => named(&name)?,
                };
                Ok(Piece::Text(checked(c.to_string())?))
            }
            Event::DocType(_) => Err(ListError::DocumentType),
            Event::Decl(declaration) => match declaration.encoding() {
                Some(Ok(encoding)) if !encoding.eq_ignore_ascii_case("utf-8") => {
                    Err(ListError::Encoding(encoding.into_owned()))
                }
                _ => Ok(Piece::Nothing),
            },
            Event::Empty(_) | Event::Comment(_) | Event::PI(_) => Ok(Piece::Nothing),
            Event::Eof => Ok(Piece::Eof),
        }
    }
}

fn start(element: &BytesStart<'_>, own: bool) -> Result<Start, ListError> {
    let mut attributes = Vec::new();
    for attribute in element.attributes() {
        let attribute = attribute.map_err(quick_xml::Error::from)?;
        let value = attribute.normalized_value(XmlVersion::Implicit1_0)?;
        attributes.push((
            attribute.key.as_ref().to_owned(),
            checked(value.into_owned())?,
        ));
    }
    Ok(Start {
        name: element.local_name().as_ref().to_owned(),
        own,
        attributes,
    })
}

/// XML's own five entities; there are no others without a document type.
fn named(name: &str) -> Result<char, ListError> {
    match name {
        "lt" => Ok('<'),
        "gt" => Ok('>'),
        "amp" => Ok('&'),
        "quot" => Ok('"'),
        "apos" => Ok('\''),
        other => Err(ListError::Entity(shorten(other))),
    }
}

fn checked(text: String) -> Result<String, ListError> {
    match text.chars().find(|c| !is_xml(*c)) {
        Some(c) => Err(ListError::Forbidden(c)),
        None => Ok(text),
    }
}

fn is_blank(text: &str) -> bool {
    text.bytes()
        .all(|c| matches!(c, b' ' | b'\t' | b'\r' | b'\n'))
}

fn shorten(text: &str) -> String {
    text.trim().chars().take(40).collect()
}

/// Hands out at most so many bytes between two events, so that no tag and no text fills the memory.
struct Guard<R> {
    reader: R,
    left: usize,
}

impl<R: BufRead> Read for Guard<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let available = self.fill_buf()?;
        let length = available.len().min(buffer.len());
        buffer[..length].copy_from_slice(&available[..length]);
        self.consume(length);
        Ok(length)
    }
}

impl<R: BufRead> BufRead for Guard<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        let left = self.left;
        let available = self.reader.fill_buf()?;
        if left == 0 && !available.is_empty() {
            return Err(io::Error::new(
                io::ErrorKind::FileTooLarge,
                "a piece is too long",
            ));
        }
        Ok(&available[..available.len().min(left)])
    }

    fn consume(&mut self, amount: usize) {
        self.left = self.left.saturating_sub(amount);
        self.reader.consume(amount);
    }
}
