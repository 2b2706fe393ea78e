fn main() -> std::process::ExitCode {
    tankerloop::cli::run()
}
