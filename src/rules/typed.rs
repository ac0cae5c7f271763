//! Spanned tree → any type that `serde` can fill, for small files of fixed shape.
//!
//! In: a file that begins with its kind and version (`port: 1`). Out: the type, or a notice at
//! the line of the innermost value that doesn't fit. Only the first such value is reported; rule
//! and job files, where all problems of a run are wanted, are read with [`crate::rules::raw`].
//!
//! ```
//! use seepwise::rules::typed;
//! use seepwise::source::{SourceFile, Sources};
//! #[derive(serde::Deserialize)]
//! #[serde(deny_unknown_fields)]
//! struct Hose { bore_mm: f64 }
//! let mut sources = Sources::new();
//! let file = sources.add(SourceFile::new("a.yaml", "hose: 1\nbore_mm: 38\n"));
//! let hose: Hose = typed::document(file, &sources, "hose").unwrap();
//! assert_eq!(hose.bore_mm, 38.0);
//! let file = sources.add(SourceFile::new("b.yaml", "hose: 1\nbore: 38\n"));
//! assert!(typed::document::<Hose>(file, &sources, "hose").is_err());
//! ```

use std::fmt;

use serde::de::value::StrDeserializer;
use serde::de::{
    self, DeserializeOwned, DeserializeSeed, Deserializer, IntoDeserializer, MapAccess, SeqAccess,
    Visitor,
};

use crate::notice::{Notice, Notices, codes};
use crate::rules::raw::{Key, Node, Value};
use crate::rules::read;
use crate::rules::suggest::help_for;
use crate::source::{SourceId, Sources, Span};

/// The version that is understood.
const VERSION: &str = "1";

/// Reads a file that says `kind: 1`.
///
/// # Errors
/// What keeps it from being read, or the first value that doesn't fit.
pub fn document<T: DeserializeOwned>(
    file: SourceId,
    sources: &Sources,
    kind: &str,
) -> Result<T, Notices> {
    read_document(file, sources, kind).map_err(|notice| {
        let mut notices = Notices::new();
        notices.push(notice);
        notices
    })
}

fn read_document<T: DeserializeOwned>(
    file: SourceId,
    sources: &Sources,
    kind: &str,
) -> Result<T, Notice> {
    let mut tree = read::tree(file, sources)?;
    let whole = tree.span;
    match tree.get(kind) {
        Some(version) if version.text() == Some(VERSION) => {}
        Some(version) => {
            let message = format!("this version of `{kind}` is not known");
            let help = format!("the known version is {VERSION}; a newer seepwise may know it");
            return Err(Notice::error(codes::UNKNOWN_VERSION, version.span, message).help(help));
        }
        None => {
            let message = format!("the file does not say that it is a {kind} file");
            let help = format!("a {kind} file says `{kind}: {VERSION}` on its first line");
            return Err(Notice::error(codes::UNKNOWN_VERSION, whole, message).help(help));
        }
    }
    if let Value::Map(entries) = &mut tree.value
        && let Some(at) = entries.iter().position(|(key, _)| key.text == kind)
    {
        entries.remove(at);
    }
    T::deserialize(At(&tree)).map_err(|misfit| misfit.notice(whole))
}

/// A value that doesn't fit.
#[derive(Debug)]
struct Misfit {
    code: &'static str,
    message: String,
    help: Option<String>,
    span: Option<Span>,
}

impl Misfit {
    fn new(code: &'static str, message: String) -> Self {
        Self {
            code,
            message,
            help: None,
            span: None,
        }
    }

    /// Keeps the innermost place.
    fn at(mut self, span: Span) -> Self {
        self.span.get_or_insert(span);
        self
    }

    fn notice(self, whole: Span) -> Notice {
        Notice::error(self.code, self.span.unwrap_or(whole), self.message).maybe_help(self.help)
    }
}

impl fmt::Display for Misfit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Misfit {}

impl de::Error for Misfit {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self::new(codes::WRONG_KIND, message.to_string())
    }

    fn unknown_field(field: &str, expected: &'static [&'static str]) -> Self {
        let mut misfit = Self::new(codes::UNKNOWN_KEY, format!("unknown key `{field}`"));
        misfit.help = help_for(field, expected);
        misfit
    }

    fn unknown_variant(variant: &str, expected: &'static [&'static str]) -> Self {
        let message = format!("`{variant}` is none of the words that can stand here");
        let mut misfit = Self::new(codes::UNKNOWN_NAME, message);
        misfit.help = help_for(variant, expected);
        misfit
    }

    fn missing_field(field: &'static str) -> Self {
        Self::new(codes::MISSING_KEY, format!("`{field}:` is missing here"))
    }

    fn duplicate_field(field: &'static str) -> Self {
        Self::new(codes::DUPLICATE_NAME, format!("`{field}` is given twice"))
    }

    fn invalid_length(found: usize, expected: &dyn de::Expected) -> Self {
        Self::new(
            codes::WRONG_KIND,
            format!("the list has {found} values where {expected} belongs"),
        )
    }
}

/// A node as `serde` sees it.
#[derive(Clone, Copy)]
struct At<'n>(&'n Node);

impl<'n> At<'n> {
    fn number(self) -> Result<f64, Misfit> {
        let text = self.scalar("a number")?.trim();
        let wrong = |code, message: String| Err(Misfit::new(code, message).at(self.0.span));
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(value),
            Ok(_) => wrong(codes::NOT_A_NUMBER, format!("`{text}` is no number here")),
            Err(_) => wrong(
                codes::WRONG_KIND,
                format!("a number without its unit belongs here, not `{text}`"),
            ),
        }
    }

    fn scalar(self, wanted: &str) -> Result<&'n str, Misfit> {
        match self.0.text() {
            Some(text) if !self.0.is_nothing() => Ok(text),
            _ => {
                let message = format!("{wanted} belongs here, not {}", self.0.kind_words());
                Err(Misfit::new(codes::WRONG_KIND, message).at(self.0.span))
            }
        }
    }
}

impl<'de> Deserializer<'de> for At<'de> {
    type Error = Misfit;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        match &self.0.value {
            Value::Map(entries) => visitor.visit_map(Entries {
                rest: entries.iter(),
                value: None,
            }),
            Value::List(items) => {
                let mut rest = Items(items.iter());
                visitor.visit_seq(&mut rest).and_then(|read| {
                    // A pair does not ask for a third value: it must not go unseen.
                    rest.0.next().map_or(Ok(read), |surplus| {
                        let message = "the list has more values than belong here".to_owned();
                        Err(Misfit::new(codes::WRONG_KIND, message).at(surplus.span))
                    })
                })
            }
            Value::Scalar { .. } if self.0.is_nothing() => visitor.visit_unit(),
            Value::Scalar { text, .. } => visitor.visit_str(text),
        }
        .map_err(|misfit: Misfit| misfit.at(self.0.span))
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_f64(self.number()?)
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_str(self.scalar("a text")?)
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        self.deserialize_str(visitor)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        if self.0.is_nothing() {
            visitor.visit_none()
        } else {
            visitor.visit_some(self)
        }
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        let text: StrDeserializer<'_, Misfit> = self.scalar("a word")?.into_deserializer();
        visitor
            .visit_enum(text)
            .map_err(|misfit| misfit.at(self.0.span))
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 char bytes byte_buf unit unit_struct
        newtype_struct seq tuple tuple_struct map struct identifier ignored_any
    }
}

struct Items<'n>(std::slice::Iter<'n, Node>);

impl<'de> SeqAccess<'de> for Items<'de> {
    type Error = Misfit;

    fn next_element_seed<T: DeserializeSeed<'de>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, Misfit> {
        self.0
            .next()
            .map(|node| {
                seed.deserialize(At(node))
                    .map_err(|misfit| misfit.at(node.span))
            })
            .transpose()
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.0.len())
    }
}

struct Entries<'n> {
    rest: std::slice::Iter<'n, (Key, Node)>,
    value: Option<&'n Node>,
}

impl<'de> MapAccess<'de> for Entries<'de> {
    type Error = Misfit;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, Misfit> {
        let Some((key, value)) = self.rest.next() else {
            return Ok(None);
        };
        self.value = Some(value);
        let text: StrDeserializer<'_, Misfit> = key.text.as_str().into_deserializer();
        seed.deserialize(text)
            .map(Some)
            .map_err(|misfit| misfit.at(key.span))
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Misfit> {
        let node = self
            .value
            .take()
            .ok_or_else(|| de::Error::custom("a value was asked for before its key"))?;
        seed.deserialize(At(node))
            .map_err(|misfit| misfit.at(node.span))
    }
}
