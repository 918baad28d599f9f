//! Conditions as a person writes them in one cell: `tower and (radar or not cabin)`.
//!
//! The writing is exact: reading what was written gives the same record, with its nesting.

use serde_json::{Value, json};

/// Deepest nesting read: more is no condition, and the reader of the model allows less.
const DEEPEST: usize = 40;

/// A condition of the file as text.
pub(super) fn written(value: &Value) -> String {
    match value {
        Value::String(option) => name(option),
        Value::Object(object) => match object.iter().next() {
            Some((word, Value::Array(parts))) if word == "all" || word == "any" => {
                let joint = if word == "all" { " and " } else { " or " };
                let inner = parts.iter().map(grouped).collect::<Vec<_>>();
                // One part alone has no joint, so the word of the file stands before it.
                if let [only] = parts.as_slice() {
                    return format!("{word}({})", written(only));
                }
                inner.join(joint)
            }
            Some((_, inner)) => format!("not {}", grouped(inner)),
            None => String::new(),
        },
        _ => String::new(),
    }
}

fn grouped(value: &Value) -> String {
    let is_group = ["all", "any"]
        .iter()
        .any(|word| value[word].as_array().is_some_and(|parts| parts.len() > 1));
    let text = written(value);
    if is_group { format!("({text})") } else { text }
}

fn is_plain(text: &str) -> bool {
    !text.is_empty() && text.chars().all(is_of_name)
}

fn is_of_name(c: char) -> bool {
    c.is_alphanumeric() || matches!(c, '-' | '_')
}

fn name(option: &str) -> String {
    let lower = option.to_lowercase();
    let is_word = ["and", "or", "not", "all", "any"].contains(&lower.as_str());
    if is_plain(option) && !is_word {
        option.to_owned()
    } else {
        format!("\"{}\"", option.replace('"', "\"\""))
    }
}

#[derive(Clone, Debug, PartialEq)]
enum Token {
    Name(String),
    And,
    Or,
    Not,
    /// `all(` or `any(`: a list, also of one part.
    Word(&'static str),
    Open,
    Close,
}

/// The record of a condition from its text. Fails with what is wrong.
pub(super) fn read(text: &str) -> Result<Value, String> {
    let mut reader = Reader {
        tokens: tokens(text)?,
        at: 0,
    };
    let value = reader.joined(0)?;
    match reader.next() {
        None => Ok(value),
        Some(Token::Close) => Err("A closing parenthesis has no opening one.".to_owned()),
        Some(_) => Err("Between two options stands neither \"and\" nor \"or\".".to_owned()),
    }
}

fn tokens(text: &str) -> Result<Vec<Token>, String> {
    let mut tokens = Vec::new();
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        match c {
            c if c.is_whitespace() => {}
            '(' => tokens.push(Token::Open),
            ')' => tokens.push(Token::Close),
            '"' => {
                let mut quoted = String::new();
                loop {
                    match rest.next() {
                        Some('"') if rest.next_if_eq(&'"').is_some() => quoted.push('"'),
                        Some('"') => break,
                        Some(c) => quoted.push(c),
                        None => return Err("A quotation mark is not closed.".to_owned()),
                    }
                }
                tokens.push(Token::Name(quoted));
            }
            c if is_of_name(c) => {
                let mut word = String::from(c);
                while let Some(c) = rest.next_if(|c| is_of_name(*c)) {
                    word.push(c);
                }
                tokens.push(match word.to_lowercase().as_str() {
                    "and" => Token::And,
                    "or" => Token::Or,
                    "not" => Token::Not,
                    "all" if rest.peek() == Some(&'(') => Token::Word("all"),
                    "any" if rest.peek() == Some(&'(') => Token::Word("any"),
                    _ => Token::Name(word),
                });
            }
            other => return Err(format!("\"{other}\" has no meaning in a condition.")),
        }
    }
    Ok(tokens)
}

struct Reader {
    tokens: Vec<Token>,
    at: usize,
}

impl Reader {
    fn peek(&self) -> Option<&Token> {
        self.tokens.get(self.at)
    }

    fn next(&mut self) -> Option<Token> {
        let token = self.peek().cloned();
        self.at += 1;
        token
    }

    /// Parts with `and` between them, or with `or`, or one part alone.
    fn joined(&mut self, depth: usize) -> Result<Value, String> {
        let first = self.part(depth)?;
        let joint = match self.peek() {
            Some(joint @ (Token::And | Token::Or)) => joint.clone(),
            _ => return Ok(first),
        };
        let mut parts = vec![first];
        while self.peek() == Some(&joint) {
            self.at += 1;
            parts.push(self.part(depth)?);
        }
        if let Some(Token::And | Token::Or) = self.peek() {
            return Err(
                "\"and\" and \"or\" stand side by side, so it is not clear which goes first."
                    .to_owned(),
            );
        }
        let word = if joint == Token::And { "all" } else { "any" };
        Ok(json!({ word: parts }))
    }

    fn part(&mut self, depth: usize) -> Result<Value, String> {
        if depth > DEEPEST {
            return Err("The condition is nested too deep.".to_owned());
        }
        match self.next() {
            Some(Token::Name(option)) => Ok(Value::String(option)),
            Some(Token::Not) => Ok(json!({ "not": self.part(depth + 1)? })),
            Some(Token::Open) => self.closed(depth + 1),
            Some(Token::Word(word)) => {
                self.at += 1;
                let inner = self.closed(depth + 1)?;
                Ok(json!({ word: [inner] }))
            }
            Some(Token::And | Token::Or) | None => {
                Err("An option is missing beside \"and\", \"or\" or \"not\".".to_owned())
            }
            Some(Token::Close) => Err("Nothing stands between two parentheses.".to_owned()),
        }
    }

    fn closed(&mut self, depth: usize) -> Result<Value, String> {
        let inner = self.joined(depth)?;
        match self.next() {
            Some(Token::Close) => Ok(inner),
            _ => Err("An opening parenthesis is not closed.".to_owned()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A condition drawn at random, down to a depth.
    fn drawn(rng: &mut fastrand::Rng, depth: usize) -> Value {
        let kinds = if depth == 0 { 1 } else { 4 };
        match rng.usize(0..kinds) {
            0 => {
                let names = [
                    "T1",
                    "and",
                    "NOT",
                    "all",
                    "a-b_c",
                    "with space",
                    "quo\"te",
                    "é",
                    "any",
                ];
                json!(names[rng.usize(0..names.len())])
            }
            1 => json!({ "not": drawn(rng, depth - 1) }),
            kind => {
                let word = if kind == 2 { "all" } else { "any" };
                let count = rng.usize(1..4);
                let parts: Vec<_> = (0..count).map(|_| drawn(rng, depth - 1)).collect();
                json!({ word: parts })
            }
        }
    }

    #[test]
    fn what_is_written_is_read_back_exactly() {
        let mut rng = fastrand::Rng::with_seed(7);
        for _ in 0..5_000 {
            let condition = drawn(&mut rng, 4);
            let text = written(&condition);
            assert_eq!(read(&text).as_ref(), Ok(&condition), "{text}");
        }
    }

    #[test]
    fn it_reads_as_a_person_writes() {
        let expected = json!({"all": ["a", {"any": ["b", {"not": "c"}]}]});
        assert_eq!(read(" a AND (b or  not c)"), Ok(expected.clone()));
        assert_eq!(written(&expected), "a and (b or not c)");
        assert_eq!(read("any"), Ok(json!("any")));
    }

    #[test]
    fn what_is_not_clear_is_told() {
        for (text, word) in [
            ("a and b or c", "side by side"),
            ("a b", "neither"),
            ("a and", "missing"),
            ("(a", "not closed"),
            ("a)", "no opening"),
            ("a & b", "no meaning"),
            ("\"a", "quotation"),
            ("()", "Nothing"),
            (&"(".repeat(5_000), "too deep"),
            (&"not ".repeat(5_000), "too deep"),
        ] {
            let fault = read(text).unwrap_err();
            assert!(fault.contains(word), "{text}: {fault}");
        }
    }
}
