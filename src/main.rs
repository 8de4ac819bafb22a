//! The program's entry: arguments to commands to exit code.

fn main() {}
