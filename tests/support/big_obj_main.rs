//! Writes the large OBJ of the speed tests to the path given: `cargo run --release --example big_obj -- FILE`.

mod big_obj;

use std::io::{BufWriter, Write};

fn main() -> std::io::Result<()> {
    let Some(path) = std::env::args_os().nth(1) else {
        eprintln!("usage: big_obj FILE");
        std::process::exit(2);
    };
    let mut out = BufWriter::new(std::fs::File::create(path)?);
    big_obj::write(&mut out, big_obj::Shape::MILLION)?;
    out.flush()
}
