/// Zones and simulations ask for much small memory from many threads.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> std::process::ExitCode {
    tankerloop::cli::run()
}
