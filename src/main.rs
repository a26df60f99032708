//! The `scaplane` command; everything is in the library.

fn main() -> std::process::ExitCode {
    scaplane::cli::main()
}
