//! Another library in Rust that the same program links: it allocates, panics and catches.
#[unsafe(no_mangle)]
pub extern "C" fn other_sum(n: u32) -> u32 {
    let sum = || {
        let all: Vec<u32> = (0..n).collect();
        assert!(n < 6, "too many");
        all.iter().sum::<u32>()
    };
    std::panic::catch_unwind(sum).unwrap_or(99)
}
