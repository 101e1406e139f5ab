//! The program: hands its arguments, its streams and the time to the library.

use std::io::{Write as _, stderr, stdin, stdout};
use std::process::ExitCode;
use trimtab::cli::{Io, run};

fn main() -> ExitCode {
    let now = jiff::Timestamp::now()
        .strftime("%Y-%m-%dT%H:%M:%SZ")
        .to_string();
    // Styles go out only to a terminal, and not with NO_COLOR.
    let mut out = anstream::AutoStream::auto(stdout().lock());
    let mut err = anstream::AutoStream::auto(stderr());
    let code = run(
        std::env::args_os(),
        &mut Io {
            stdin: &mut stdin(),
            out: &mut out,
            err: &mut err,
        },
        &now,
    );
    let flushed = out.flush().is_ok();
    ExitCode::from(if code == 0 && !flushed { 7 } else { code })
}
