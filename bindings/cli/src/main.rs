//! The shell tool of elbowroom.

fn main() {
    println!("elbowroom {}", env!("CARGO_PKG_VERSION"));
}
