//! A TOML text with its name, so that every complaint can say file, line and column.

use serde::de::DeserializeOwned;
use std::fmt;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A description as it came: where from, and the text.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    /// File name for messages; `-` for standard input.
    pub name: &'a str,
    /// The whole text.
    pub text: &'a str,
}

/// One thing that is wrong in a description.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Violation {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// Key from the top of the file, such as `track[0].masses_g`; empty if the text is no TOML.
    pub key: String,
    /// The value that was found; empty if it is missing.
    pub value: String,
    /// What is wrong or what is allowed.
    pub allowed: String,
}

/// A description that was refused, with everything that is wrong with it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct DescribeError {
    /// File name.
    pub file: String,
    /// At least one.
    pub violations: Vec<Violation>,
}

impl fmt::Display for DescribeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (n, v) in self.violations.iter().enumerate() {
            let new_line = if n > 0 { "\n" } else { "" };
            write!(f, "{new_line}{}:{}:{}: ", self.file, v.line, v.column)?;
            match (v.key.is_empty(), v.value.is_empty()) {
                (true, _) => write!(f, "{}", v.allowed)?,
                (false, true) => write!(f, "{}: {}", v.key, v.allowed)?,
                (false, false) => write!(f, "{} = {}: {}", v.key, v.value, v.allowed)?,
            }
        }
        Ok(())
    }
}

/// A step down into a TOML document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Step {
    /// Into a table.
    Key(String),
    /// Into an array.
    Index(usize),
}

impl From<&str> for Step {
    fn from(key: &str) -> Step {
        Step::Key(key.to_string())
    }
}

impl From<usize> for Step {
    fn from(index: usize) -> Step {
        Step::Index(index)
    }
}

/// The way from the top of the document to a value.
pub(crate) type Path = Vec<Step>;

/// `at!["track", 0, "masses_g"]`.
macro_rules! at {
    ($($step:expr),* $(,)?) => { vec![$($crate::bench::describe::source::Step::from($step)),*] };
}
pub(crate) use at;

/// Something wrong with a value, before it is known on which line it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Problem {
    pub path: Path,
    pub value: String,
    pub allowed: String,
}

impl Problem {
    pub fn new(path: Path, value: impl ToString, allowed: impl ToString) -> Problem {
        Problem {
            path,
            value: value.to_string(),
            allowed: allowed.to_string(),
        }
    }
}

impl Source<'_> {
    /// Reads the text as a `T`, with every number checked against the bounds table.
    pub(crate) fn parse<T: DeserializeOwned>(&self) -> Result<T, DescribeError> {
        let tree = DeTable::parse(self.text).map_err(|e| self.refuse(vec![self.syntax(&e)]))?;
        let mut violations = self.locate(Some(&tree), super::bounds::check(tree.get_ref()));
        match T::deserialize(toml::Deserializer::from(tree)) {
            Ok(file) if violations.is_empty() => return Ok(file),
            Ok(_) => {}
            Err(e) => violations.push(self.syntax(&e)),
        }
        Err(self.refuse(violations))
    }

    /// An error for problems, if there are any.
    pub(crate) fn check(
        &self,
        problems: impl IntoIterator<Item = Problem>,
    ) -> Result<(), DescribeError> {
        let problems: Vec<Problem> = problems.into_iter().collect();
        if problems.is_empty() {
            return Ok(());
        }
        Err(self.error(problems))
    }

    /// The error for problems.
    pub(crate) fn error(&self, problems: Vec<Problem>) -> DescribeError {
        let tree = DeTable::parse(self.text).ok();
        self.refuse(self.locate(tree.as_ref(), problems))
    }

    fn refuse(&self, violations: Vec<Violation>) -> DescribeError {
        DescribeError {
            file: self.name.to_string(),
            violations,
        }
    }

    /// A complaint of the TOML reader: syntax, type or unknown key.
    fn syntax(&self, e: &toml::de::Error) -> Violation {
        let span = e.span().unwrap_or(0..0);
        let (line, column) = self.line_and_column(span.start);
        let value = self.text.get(span).unwrap_or_default();
        Violation {
            line,
            column,
            key: String::new(),
            value: value.lines().next().unwrap_or_default().to_string(),
            allowed: e.message().trim_end().replace('\n', ", "),
        }
    }

    fn locate(
        &self,
        tree: Option<&Spanned<DeTable<'_>>>,
        problems: Vec<Problem>,
    ) -> Vec<Violation> {
        let place = |p: Problem| {
            let at = tree.map_or(0, |t| offset(t.get_ref(), &p.path));
            let (line, column) = self.line_and_column(at);
            Violation {
                line,
                column,
                key: written(&p.path),
                value: p.value,
                allowed: p.allowed,
            }
        };
        problems.into_iter().map(place).collect()
    }

    fn line_and_column(&self, offset: usize) -> (usize, usize) {
        let before = self.text.get(..offset).unwrap_or(self.text);
        let line_start = before.rfind('\n').map_or(0, |n| n + 1);
        let line = before.matches('\n').count() + 1;
        (line, before[line_start..].chars().count() + 1)
    }
}

/// Byte offset of the value at the end of a path, or of the deepest one that is there.
fn offset(top: &DeTable<'_>, path: &[Step]) -> usize {
    let Some(Step::Key(first)) = path.first() else {
        return 0;
    };
    let Some(mut value) = find(top, first) else {
        return 0;
    };
    for step in &path[1..] {
        let next = match (step, value.get_ref()) {
            (Step::Key(key), DeValue::Table(table)) => find(table, key),
            (Step::Index(n), DeValue::Array(array)) => array.get(*n),
            _ => None,
        };
        match next {
            Some(deeper) => value = deeper,
            None => break,
        }
    }
    value.span().start
}

fn find<'t, 'i>(table: &'t DeTable<'i>, key: &str) -> Option<&'t Spanned<DeValue<'i>>> {
    table
        .iter()
        .find(|(k, _)| k.get_ref() == key)
        .map(|(_, v)| v)
}

/// The path in words: `track[0].masses_g`.
fn written(path: &[Step]) -> String {
    let mut text = String::new();
    for step in path {
        match step {
            Step::Key(key) if text.is_empty() => text.push_str(key),
            Step::Key(key) => text.push_str(&format!(".{key}")),
            Step::Index(n) => text.push_str(&format!("[{n}]")),
        }
    }
    text
}

/// What is wrong with a name that has to serve as a key, if anything.
pub(crate) fn name_problem(path: Path, name: &str) -> Option<Problem> {
    let good = !name.is_empty()
        && name.trim() == name
        && name.chars().count() <= 80
        && !name.chars().any(char::is_control);
    let allowed = "a name has 1 to 80 characters, no control characters, no blanks at its ends";
    (!good).then(|| Problem::new(path, format!("{name:?}"), allowed))
}
