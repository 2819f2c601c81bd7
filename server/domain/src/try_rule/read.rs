//! Reading a case with a pointer to every place in it, so that a fault names where it is.

use chrono::{NaiveDate, NaiveTime};
use serde_json::Value;

/// What is wrong, and where in the case (JSON pointer, RFC 6901).
#[derive(Debug)]
pub(super) struct Fault {
    pub pointer: String,
    pub detail: String,
}

/// A place in the case.
#[derive(Clone, Debug)]
pub(super) struct At<'a> {
    pub value: &'a Value,
    pointer: String,
}

impl<'a> At<'a> {
    pub fn root(value: &'a Value) -> Self {
        At {
            value,
            pointer: String::new(),
        }
    }

    /// A fault here.
    pub fn fault(&self, detail: impl Into<String>) -> Fault {
        let pointer = if self.pointer.is_empty() {
            "(the case)".into()
        } else {
            self.pointer.clone()
        };
        Fault {
            pointer,
            detail: detail.into(),
        }
    }

    fn wanted<T>(&self, found: Option<T>, what: &str) -> Result<T, Fault> {
        found.ok_or_else(|| self.fault(format!("expected {what}, found {}", short(self.value))))
    }

    /// Stops at a member that nothing reads: misspelt, it would be passed over, and the answer would be another case's.
    /// What a case may say about itself (`id`, `name`, `note`, `source`, `expected…`) is allowed at its root.
    pub fn only(&self, known: &[&str]) -> Result<(), Fault> {
        let object = self.wanted(self.value.as_object(), "an object")?;
        let root = self.pointer.is_empty();
        let about = |key: &str| {
            root && (["id", "name", "note", "notes", "source", "sources"].contains(&key)
                || key.starts_with("expected"))
        };
        let strange =
            (object.iter()).find(|(key, _)| !known.contains(&key.as_str()) && !about(key));
        let Some((key, value)) = strange else {
            return Ok(());
        };
        let place = At {
            value,
            pointer: format!("{}/{key}", self.pointer),
        };
        Err(place.fault(format!(
            "the member \"{key}\" is not known here; known are: {}",
            known.join(", ")
        )))
    }

    /// A member that must be there; it may be null.
    pub fn get(&self, key: &str) -> Result<At<'a>, Fault> {
        let object = self.wanted(self.value.as_object(), "an object")?;
        let value = object
            .get(key)
            .ok_or_else(|| self.fault(format!("the member \"{key}\" is missing")))?;
        Ok(At {
            value,
            pointer: format!("{}/{key}", self.pointer),
        })
    }

    /// A member that may be missing or null.
    pub fn optional(&self, key: &str) -> Option<At<'a>> {
        let value = self.value.get(key).filter(|value| !value.is_null())?;
        Some(At {
            value,
            pointer: format!("{}/{key}", self.pointer),
        })
    }

    /// Reads this place, or gives None for null.
    pub fn nullable<T>(
        &self,
        read: impl FnOnce(&Self) -> Result<T, Fault>,
    ) -> Result<Option<T>, Fault> {
        if self.value.is_null() {
            Ok(None)
        } else {
            read(self).map(Some)
        }
    }

    pub fn items(&self) -> Result<Vec<At<'a>>, Fault> {
        let list = self.wanted(self.value.as_array(), "a list")?;
        let at = |(place, value)| At {
            value,
            pointer: format!("{}/{place}", self.pointer),
        };
        Ok(list.iter().enumerate().map(at).collect())
    }

    pub fn text(&self) -> Result<&'a str, Fault> {
        self.wanted(self.value.as_str(), "a text")
    }

    pub fn bool(&self) -> Result<bool, Fault> {
        self.wanted(self.value.as_bool(), "true or false")
    }

    /// A whole number that fits the type asked for.
    pub fn whole<T: TryFrom<i64>>(&self) -> Result<T, Fault> {
        let number = self
            .value
            .as_i64()
            .and_then(|number| T::try_from(number).ok());
        self.wanted(number, "a whole number in range")
    }

    pub fn date(&self) -> Result<NaiveDate, Fault> {
        let date = self.value.as_str().and_then(|text| text.parse().ok());
        self.wanted(date, "a date such as \"2029-01-09\"")
    }

    pub fn time(&self) -> Result<NaiveTime, Fault> {
        let read = |text: &str| {
            NaiveTime::parse_from_str(text, "%H:%M")
                .or_else(|_| NaiveTime::parse_from_str(text, "%H:%M:%S"))
                .ok()
        };
        self.wanted(
            self.value.as_str().and_then(read),
            "a time such as \"09:00\"",
        )
    }

    /// One of the words of a closed list.
    pub fn one_of<T: Copy>(&self, words: &[(&str, T)]) -> Result<T, Fault> {
        let found = self.value.as_str().and_then(|text| {
            words
                .iter()
                .find(|(word, _)| *word == text)
                .map(|(_, meaning)| *meaning)
        });
        let list: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        self.wanted(found, &format!("one of {}", list.join(", ")))
    }

    pub fn texts(&self) -> Result<Vec<String>, Fault> {
        self.items()?
            .iter()
            .map(|item| item.text().map(str::to_owned))
            .collect()
    }
}

/// A value, short enough for a message.
fn short(value: &Value) -> String {
    const LONGEST: usize = 60;
    let text = value.to_string();
    if text.chars().count() <= LONGEST {
        return text;
    }
    format!("{}…", text.chars().take(LONGEST).collect::<String>())
}
