//! How fast the program is at what it does most, in memory: `cargo bench -p tests --bench speed`. How it stands to others
//! is what `tests/speed` says.

mod capture;
mod list;
mod milking;
mod readings;
mod table;

fn main() {
    divan::main();
}
