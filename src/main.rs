fn main() -> std::process::ExitCode {
    tankerloop::memory::keep_freed();
    tankerloop::cli::run()
}
