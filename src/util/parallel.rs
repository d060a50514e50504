//! Two things at once, where there are threads.

/// Both results; the second runs on another thread, except in the browser, where it follows the first.
pub(crate) fn both<A, B: Send>(first: impl FnOnce() -> A, second: impl FnOnce() -> B + Send) -> (A, B) {
    #[cfg(target_arch = "wasm32")]
    return (first(), second());
    #[cfg(not(target_arch = "wasm32"))]
    std::thread::scope(|scope| {
        let second = scope.spawn(second);
        (first(), second.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_results_are_returned_in_order() {
        let words = ["this", "that"];
        let mut told = 0;
        let lengths = both(|| told += words.len(), || words.iter().map(|word| word.len()).sum::<usize>());
        assert_eq!((lengths, told), (((), 8), 2));
    }

    #[test]
    #[should_panic(expected = "panic of the second")]
    fn a_panic_of_the_second_reaches_the_caller() {
        both(|| (), || panic!("panic of the second"));
    }
}
