//! Random numbers that are an exact function of a seed (xorshift64*, S. Vigna, 2016).

/// A source of random numbers.
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// From a seed. Similar seeds give very different numbers.
    pub fn new(seed: u64) -> Random {
        let mut random = Random((seed ^ 0x9e37_79b9_7f4a_7c15).wrapping_mul(0xbf58_476d_1ce4_e5b9) | 1);
        for _ in 0..8 {
            random.next();
        }
        random
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    /// 0 to `n` - 1.
    pub fn below(&mut self, n: u64) -> u64 {
        (self.next() >> 16) % n.max(1)
    }

    /// A number from `from` up to but not including `to`.
    pub fn range(&mut self, from: i64, to: i64) -> i64 {
        from + i64::try_from(self.below(to.saturating_sub(from).unsigned_abs())).unwrap_or(0)
    }

    /// True with a chance of this many in a hundred.
    pub fn percent(&mut self, chance: u64) -> bool {
        self.below(100) < chance
    }

    /// One of several.
    pub fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[usize::try_from(self.below(from.len() as u64)).unwrap_or(0)]
    }
}
