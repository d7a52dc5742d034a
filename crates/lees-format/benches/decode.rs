//! Speed of decoding.

fn main() {
    divan::main();
}
