//! The program: hands its arguments, its streams and the time to the library.

use std::io::{ErrorKind, Write as _, stderr, stdin, stdout};
use std::process::ExitCode;
use trimtab::cli::{Io, now, run};

fn main() -> ExitCode {
    // Styles go out only to a terminal, and not with NO_COLOR.
    let mut out = anstream::AutoStream::auto(stdout().lock());
    let mut err = anstream::AutoStream::auto(stderr());
    let clock = std::env::var_os("TRIMTAB_NOW");
    let now = match now(clock.as_deref(), jiff::ZonedDateTime::now()) {
        Ok(now) => now,
        Err(failure) => {
            let _ = write!(err, "{}", failure.told());
            return ExitCode::from(failure.code());
        }
    };
    let code = run(
        std::env::args_os(),
        &mut Io {
            stdin: &mut stdin(),
            out: &mut out,
            err: &mut err,
        },
        &now,
    );
    ExitCode::from(match out.flush() {
        Err(e) if code == 0 && e.kind() != ErrorKind::BrokenPipe => 7,
        _ => code,
    })
}
