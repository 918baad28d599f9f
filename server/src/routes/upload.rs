//! Reading a form with a file.

use std::collections::BTreeMap;

use axum::body::Bytes;
use axum::extract::Multipart;

use crate::error::{Error, Fault};
use crate::intake::{self, Accepted};

/// Name of the file field.
const FILE: &str = "file";

/// A form as it was sent.
#[derive(Debug, Default)]
pub(super) struct Upload {
    file: Bytes,
    file_name: String,
    texts: BTreeMap<String, String>,
}

impl Upload {
    /// Reads the whole form. Of two fields of one name the later one counts.
    pub(super) async fn read(mut form: Multipart) -> Result<Self, Error> {
        let mut upload = Self::default();
        while let Some(field) = form.next_field().await? {
            let Some(name) = field.name().map(str::to_owned) else {
                continue;
            };
            let file_name = field.file_name().unwrap_or_default().to_owned();
            let content = field.bytes().await?;
            if name == FILE {
                upload.file_name = file_name;
                upload.file = content;
            } else {
                upload
                    .texts
                    .insert(name, String::from_utf8_lossy(&content).into_owned());
            }
        }
        Ok(upload)
    }

    /// What was typed into a field; nothing when it was not sent.
    pub(super) fn text(&self, name: &str) -> &str {
        self.texts.get(name).map_or("", String::as_str)
    }

    /// The file and its name, whatever it holds; empty when none was chosen.
    pub(super) fn into_file(self) -> (String, Bytes) {
        (self.file_name, self.file)
    }

    /// The boat model in the file; faults point under `/file`.
    pub(super) fn model(&self) -> Result<Accepted, Vec<Fault>> {
        let pointer = format!("/{FILE}");
        if self.file.is_empty() {
            return Err(vec![Fault::new(
                pointer,
                "no file, or an empty one: choose the model file",
            )]);
        }
        let text = str::from_utf8(&self.file).map_err(|_| {
            let detail = "this file is not text: choose a boat model file, which ends in .json";
            vec![Fault::new(&pointer, detail)]
        })?;
        // Some editors put a byte order mark before the text.
        let text = text.trim_start_matches('\u{feff}');
        intake::read(text).map_err(|faults| {
            faults
                .into_iter()
                .map(|fault| fault.under(&pointer))
                .collect()
        })
    }
}
