//! Runs the program's commands as a person would type them, and shows what they print.

use std::error::Error;
use std::io::Write;
use std::path::Path;
use trimtab::cli::{Io, run};

/// A terminal of our own: prints each command before it runs it. The clock is set by the story, so
/// that the demo prints the same on every day.
pub struct Shell {
    now: String,
}

impl Shell {
    /// Goes into a folder that is made anew.
    pub fn in_fresh_folder(folder: &Path) -> Result<Shell, Box<dyn Error>> {
        if folder.exists() {
            std::fs::remove_dir_all(folder)?;
        }
        std::fs::create_dir_all(folder)?;
        std::env::set_current_dir(folder)?;
        Ok(Shell {
            now: "2026-01-01T00:00:00Z".into(),
        })
    }

    /// Sets the clock.
    pub fn now(&mut self, now: &str) {
        self.now = now.into();
    }

    /// A line of the story.
    pub fn say(&self, text: &str) {
        println!("{text}");
    }

    /// A chapter.
    pub fn title(&self, text: &str) {
        println!("\n{}\n{text}\n{}", "=".repeat(72), "=".repeat(72));
    }

    /// Writes a file into the folder.
    pub fn write(&self, name: &str, text: &str) -> Result<(), Box<dyn Error>> {
        Ok(std::fs::write(name, text)?)
    }

    /// Runs a command and shows it with what it prints; it must succeed.
    pub fn run(&self, words: &[&str]) -> Result<(), Box<dyn Error>> {
        println!("\n$ trimtab {}", line(words));
        match self.call(words) {
            (0, text) => {
                print!("{text}");
                Ok(())
            }
            (code, text) => Err(format!("exit code {code}\n{text}").into()),
        }
    }

    /// Runs a command and shows nothing.
    pub fn quiet(&self, words: &[&str]) -> Result<(), Box<dyn Error>> {
        match self.call(words) {
            (0, _) => Ok(()),
            (code, text) => Err(format!("exit code {code}\n{text}").into()),
        }
    }

    /// Runs a command that must be refused as bad input, and shows why it was.
    pub fn expect_refusal(&self, words: &[&str]) -> Result<(), Box<dyn Error>> {
        println!("\n$ trimtab {}", line(words));
        let (code, text) = self.call(words);
        print!("{text}");
        if code == 3 {
            Ok(())
        } else {
            Err(format!("exit code {code}, not 3").into())
        }
    }

    fn call(&self, words: &[&str]) -> (u8, String) {
        let mut both = Vec::new();
        let mut notes = Vec::new();
        let code = run(
            std::iter::once(&"trimtab").chain(words).copied(),
            &mut Io {
                stdin: &mut std::io::empty(),
                out: &mut anstream::StripStream::new(&mut both as &mut dyn Write),
                err: &mut notes,
            },
            &self.now,
        );
        both.extend(notes);
        (code, String::from_utf8_lossy(&both).into_owned())
    }
}

/// The words as they would be typed, broken like a long line in a shell.
fn line(words: &[&str]) -> String {
    let mut out = String::new();
    let mut width = "$ trimtab ".len();
    for (i, word) in words.iter().enumerate() {
        let quoted = match word.contains([' ', '*']) {
            true => format!("\"{word}\""),
            false => (*word).to_string(),
        };
        if i > 0 {
            // A value stays on the line of its flag.
            let value = !word.starts_with("--");
            if width + quoted.len() > 74 && !value {
                out += " \\\n    ";
                width = 4;
            } else {
                out.push(' ');
                width += 1;
            }
        }
        width += quoted.len();
        out += &quoted;
    }
    out
}
