//! Counts the bytes that a thread holds, so that a run's memory is seen to be bounded.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

thread_local! {
    static HELD: Cell<usize> = const { Cell::new(0) };
    static MOST: Cell<usize> = const { Cell::new(0) };
}

struct Counting;

// SAFETY: every call goes to the system's allocator as it came; the counters touch no memory of the allocation.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let _ = HELD.try_with(|held| {
            held.set(held.get().wrapping_add(layout.size()));
            let _ = MOST.try_with(|most| most.set(most.get().max(held.get())));
        });
        // SAFETY: the caller keeps the allocator's rules.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        let _ = HELD.try_with(|held| held.set(held.get().wrapping_sub(layout.size())));
        // SAFETY: the caller keeps the allocator's rules.
        unsafe { System.dealloc(place, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

/// Count from nothing, on this thread.
pub fn start() {
    HELD.set(1 << 40);
    MOST.set(1 << 40);
}

/// The most bytes held since.
pub fn most() -> usize {
    MOST.get() - (1 << 40)
}
