//! JSON text: read without losing repeated names, written so that changes show line by line.

use super::fault::{Fault, step};
use serde::Serialize;
use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::ser::Formatter;
use serde_json::{Map, Number, Value};
use std::cell::RefCell;
use std::fmt;
use std::io::{self, Write};

/// The JSON value of a text, with a fault for each name that an object states twice (a plain
/// reading would silently keep the last). Fails if the text is no JSON at all.
pub(super) fn parse(text: &str) -> Result<(Value, Vec<Fault>), serde_json::Error> {
    let repeated = RefCell::new(Vec::new());
    let place = Place {
        pointer: String::new(),
        repeated: &repeated,
    };
    let mut reader = serde_json::Deserializer::from_str(text);
    let value = place.deserialize(&mut reader)?;
    reader.end()?;
    Ok((value, repeated.into_inner()))
}

/// A place in the text that is being read.
struct Place<'f> {
    pointer: String,
    repeated: &'f RefCell<Vec<Fault>>,
}

impl Place<'_> {
    fn inner(&self, token: &str) -> Self {
        Self {
            pointer: step(&self.pointer, token),
            repeated: self.repeated,
        }
    }
}

impl<'de> DeserializeSeed<'de> for Place<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<Value, D::Error> {
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Place<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        let number = Number::from_f64(value).ok_or_else(|| E::custom("number out of range"))?;
        Ok(Value::Number(number))
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let mut list = Vec::new();
        while let Some(item) = items.next_element_seed(self.inner(&list.len().to_string()))? {
            list.push(item);
        }
        Ok(Value::Array(list))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut object = Map::new();
        while let Some(name) = entries.next_key::<String>()? {
            let inner = self.inner(&name);
            let pointer = inner.pointer.clone();
            let value = entries.next_value_seed(inner)?;
            if object.contains_key(&name) {
                self.repeated.borrow_mut().push(Fault {
                    pointer,
                    detail: format!(
                        "\"{name}\" is stated twice in one object, so it is not clear which is \
                         meant. Keep one."
                    ),
                    given: super::fault::shown(&value),
                    limit: "each name once".to_owned(),
                });
            } else {
                object.insert(name, value);
            }
        }
        Ok(Value::Object(object))
    }
}

/// Writes a record with each entry of the outer object on a line of its own, and each element
/// of a list directly in it on a line of its own, so that a change of one wire is a change of
/// one line.
///
/// Fails only if a map in the record has keys that are no text.
pub(super) fn write(record: &impl Serialize) -> Result<String, serde_json::Error> {
    let mut bytes = Vec::new();
    let mut writer = serde_json::Serializer::with_formatter(&mut bytes, Lines { depth: 0 });
    record.serialize(&mut writer)?;
    bytes.push(b'\n');
    String::from_utf8(bytes).map_err(serde::ser::Error::custom)
}

/// Whole numbers up to here are written without a fraction.
const LARGEST_WHOLE: f64 = 1e15;

struct Lines {
    /// How many objects and lists are open.
    depth: usize,
}

impl Lines {
    fn separate<W: ?Sized + Write>(
        &self,
        writer: &mut W,
        first: bool,
        own_line: bool,
    ) -> io::Result<()> {
        if !first {
            writer.write_all(b",")?;
        }
        if own_line {
            self.line(writer, self.depth)
        } else if first {
            Ok(())
        } else {
            writer.write_all(b" ")
        }
    }

    fn line<W: ?Sized + Write>(&self, writer: &mut W, indent: usize) -> io::Result<()> {
        writer.write_all(b"\n")?;
        (0..indent).try_for_each(|_| writer.write_all(b"  "))
    }
}

impl Formatter for Lines {
    fn write_f64<W: ?Sized + Write>(&mut self, writer: &mut W, value: f64) -> io::Result<()> {
        if value.fract() == 0.0 && value.abs() < LARGEST_WHOLE {
            write!(writer, "{}", value as i64)
        } else {
            serde_json::ser::CompactFormatter.write_f64(writer, value)
        }
    }

    fn begin_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.depth += 1;
        writer.write_all(b"{")
    }

    fn end_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.depth -= 1;
        if self.depth == 0 {
            self.line(writer, 0)?;
        }
        writer.write_all(b"}")
    }

    fn begin_object_key<W: ?Sized + Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        self.separate(writer, first, self.depth == 1)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        writer.write_all(b": ")
    }

    fn begin_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.depth += 1;
        writer.write_all(b"[")
    }

    fn end_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.depth -= 1;
        if self.depth == 1 {
            self.line(writer, 1)?;
        }
        writer.write_all(b"]")
    }

    fn begin_array_value<W: ?Sized + Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        self.separate(writer, first, self.depth == 2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_name_stated_twice_is_a_fault_and_the_first_is_kept() {
        let (value, faults) = parse(r#"{"a": [{"b": 1, "b": 2}]}"#).unwrap();
        assert_eq!(value, json!({"a": [{"b": 1}]}));
        assert_eq!(faults.len(), 1);
        assert_eq!(faults[0].pointer, "/a/0/b");
        assert_eq!(faults[0].given, "2");
    }

    #[test]
    fn each_element_has_its_line() {
        let value = json!({"a": 1, "b": [{"c": 2.0, "d": [0.5, 3]}, {}], "e": {"f": [1, 2]}});
        let text = "{\n  \"a\": 1,\n  \"b\": [\n    {\"c\": 2, \"d\": [0.5, 3]},\n    {}\n  ],\n  \
                    \"e\": {\"f\": [1, 2]}\n}\n";
        assert_eq!(write(&value).unwrap(), text);
    }
}
