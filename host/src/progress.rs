//! Progress of long work, on standard error; hidden where that is no terminal.

use indicatif::{ProgressBar, ProgressStyle};

/// A bar over the bytes of a file; over an unknown length, a spinner with what was read.
#[must_use]
pub fn bytes(name: &str, length: Option<u64>) -> ProgressBar {
    let (bar, template) = match length {
        Some(length) => {
            (ProgressBar::new(length), "{msg:20!} {bar:25} {percent:>3} % {bytes_per_sec:>14} {eta:>5}")
        }
        None => (ProgressBar::new_spinner(), "{msg:20!} {spinner} {bytes} {bytes_per_sec}"),
    };
    finish(bar, template, name)
}

/// A bar over a number of steps.
#[must_use]
pub fn steps(name: &str, length: u64) -> ProgressBar {
    finish(ProgressBar::new(length), "{msg:20!} {bar:25} {pos}/{len} {eta:>5}", name)
}

fn finish(bar: ProgressBar, template: &str, name: &str) -> ProgressBar {
    bar.with_style(ProgressStyle::with_template(template).expect("a template that parses"))
        .with_message(name.to_owned())
}

#[cfg(test)]
mod tests {
    #[test]
    fn templates_parse() {
        super::bytes("a", Some(1)).finish_and_clear();
        super::bytes("a", None).finish_and_clear();
        super::steps("a", 1).finish_and_clear();
    }
}
