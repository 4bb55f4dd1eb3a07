//! The grid in instructions of AVX2: the steps of [`Grid::block`] in an order that crosses a register's halves once for
//! sixteen counts. A word and the word less 2m steps have the same integer part where what lies beyond it is 2m steps or more. What a compiler makes of the portable loops crosses them at each step.

use crate::counts::{BELOW, BLOCK, FOREIGN, FRACTION, Grid};
use crate::error::ConvertError;
use crate::joint::Joint;
use core::arch::x86_64::{
    __m256d, __m256i, _mm256_and_si256, _mm256_castpd_ps, _mm256_castpd_si256, _mm256_castps_si256,
    _mm256_extract_epi64, _mm256_fmadd_pd, _mm256_max_epi16, _mm256_max_epu32, _mm256_min_epi16, _mm256_min_epu32,
    _mm256_or_si256, _mm256_packus_epi32, _mm256_permutevar8x32_epi32, _mm256_set1_epi16, _mm256_set1_epi32,
    _mm256_set1_epi64x, _mm256_set1_pd, _mm256_setr_epi32, _mm256_setr_pd, _mm256_setzero_si256, _mm256_shuffle_ps,
    _mm256_slli_epi32, _mm256_srli_epi32, _mm256_sub_epi16, _mm256_testz_si256, _mm256_xor_si256,
};

/// Commands that are tested and written together.
const HALF: usize = 32;

impl Joint<f64> {
    /// [`Joint::counts_batch_as`] into `u16` on a processor that is known to have AVX2 and FMA: the same bits in less time.
    ///
    /// # Safety
    /// The processor must have AVX2 and FMA; nothing else is asked.
    ///
    /// # Errors
    /// Those of [`Joint::counts_batch_as`].
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let joint = Joint::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer))?;
    /// let mut counts = [0; 3];
    /// if std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma") {
    ///     // SAFETY: this processor has both.
    ///     unsafe { joint.counts_batch_avx2(&[-40.0, 10.0, 60.0], &mut counts)? };
    ///     assert_eq!(counts, [114, 283, 284]);
    /// }
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[target_feature(enable = "avx2,fma")]
    #[doc(hidden)]
    pub fn counts_batch_avx2(&self, commands: &[f64], out: &mut [u16]) -> Result<(), ConvertError> {
        match self.count_line().and_then(|line| line.grid()) {
            Some(grid) => self.count_blocks(commands, out, |blocks, places| grid.blocks_avx2(blocks, places)),
            None => self.counts_batch_as(commands, out),
        }
    }
}

impl Grid {
    /// Writes the counts of blocks until one of whose counts not all are certain; says how many it wrote.
    #[target_feature(enable = "avx2,fma")]
    fn blocks_avx2(&self, blocks: &[[f64; BLOCK]], places: &mut [[u16; BLOCK]]) -> usize {
        let mut written = 0;
        for (block, place) in blocks.iter().zip(places) {
            if !self.block_avx2(block, place) {
                break;
            }
            written += 1;
        }
        written
    }

    /// [`Grid::block`] in AVX2, in two halves of which each is written as soon as it is certain: so few values stay in registers.
    /// Where the second half is not, the block is converted one by one, and the first comes out the same.
    #[target_feature(enable = "avx2,fma")]
    #[inline]
    fn block_avx2(&self, commands: &[f64; BLOCK], out: &mut [u16; BLOCK]) -> bool {
        let (halves, _) = commands.as_chunks::<HALF>();
        let (places, _) = out.as_chunks_mut::<HALF>();
        for (half, place) in halves.iter().zip(places) {
            let ([a, b], _) = half.as_chunks::<16>() else {
                return false;
            };
            let mut seen = Seen {
                all: _mm256_setzero_si256(),
                least: _mm256_set1_epi32(-1),
            };
            let held = [self.sixteen(a, &mut seen), self.sixteen(b, &mut seen)];
            if !self.certain(&seen) {
                return false;
            }
            let (sixteens, _) = place.as_chunks_mut::<16>();
            for (sixteen, &held) in sixteens.iter_mut().zip(&held) {
                write(held, sixteen);
            }
        }
        true
    }

    /// Whether all are on the grid and none has a part beyond its integer of less than twice m steps.
    #[target_feature(enable = "avx2,fma")]
    #[inline]
    fn certain(&self, seen: &Seen) -> bool {
        let enough = _mm256_set1_epi32((self.twice_m << (32 - FRACTION)) as i32);
        let doubt = _mm256_xor_si256(_mm256_max_epu32(seen.least, enough), seen.least);
        let foreign = _mm256_and_si256(seen.all, _mm256_set1_epi64x(FOREIGN as i64));
        let either = _mm256_or_si256(doubt, foreign);
        _mm256_testz_si256(either, either) == 1
    }

    /// The held counts of sixteen commands.
    #[target_feature(enable = "avx2,fma")]
    #[inline]
    fn sixteen(&self, commands: &[f64; 16], seen: &mut Seen) -> __m256i {
        let &[a, b, c, d, e, f, g, h, i, j, k, l, m, n, o, p] = commands;
        let near = self.eight([a, b, c, d], [e, f, g, h], seen);
        let far = self.eight([i, j, k, l], [m, n, o, p], seen);
        // Pairs, of which each register half holds every other one.
        let in_order = _mm256_setr_epi32(0, 4, 1, 5, 2, 6, 3, 7);
        let lifted = _mm256_permutevar8x32_epi32(_mm256_packus_epi32(near, far), in_order);
        let held = _mm256_min_epi16(
            _mm256_max_epi16(lifted, _mm256_set1_epi16(self.lowest)),
            _mm256_set1_epi16(self.highest),
        );
        _mm256_sub_epi16(held, _mm256_set1_epi16(BELOW as i16))
    }

    /// The integer parts of eight commands, in pairs of which each register half holds every other one.
    #[target_feature(enable = "avx2,fma")]
    #[inline]
    fn eight(&self, near: [f64; 4], far: [f64; 4], seen: &mut Seen) -> __m256i {
        let [near, far] = [near, far].map(|[a, b, c, d]| self.lifted(_mm256_setr_pd(a, b, c, d)));
        seen.all = _mm256_or_si256(seen.all, _mm256_castpd_si256(near));
        seen.all = _mm256_or_si256(seen.all, _mm256_castpd_si256(far));
        // The lower half of each.
        let words = _mm256_shuffle_ps::<0b10_00_10_00>(_mm256_castpd_ps(near), _mm256_castpd_ps(far));
        let words = _mm256_castps_si256(words);
        // The part beyond the integer alone, at the upper end of its 32 bits.
        let part = _mm256_slli_epi32::<{ 32 - FRACTION as i32 }>(words);
        seen.least = _mm256_min_epu32(seen.least, part);
        _mm256_srli_epi32::<{ FRACTION as i32 }>(words)
    }

    /// The line, lifted onto the grid, the only sum of products that is ever fused here. Its bits are not those of the portable
    /// form; they lie as near to the line, since a rounding falls away, and are as monotone, and only counts that are certain by
    /// the same bound leave this file. So the counts are the same.
    #[target_feature(enable = "avx2,fma")]
    #[inline]
    fn lifted(&self, commands: __m256d) -> __m256d {
        _mm256_fmadd_pd(commands, _mm256_set1_pd(self.gain), _mm256_set1_pd(self.offset))
    }
}

/// What the commands of a block showed.
struct Seen {
    /// The bits of all of them on the grid.
    all: __m256i,
    /// The least of the parts beyond their integers.
    least: __m256i,
}

/// A store, without a pointer.
#[target_feature(enable = "avx2,fma")]
#[inline]
fn write(held: __m256i, out: &mut [u16; 16]) {
    let quarters = [
        _mm256_extract_epi64::<0>(held),
        _mm256_extract_epi64::<1>(held),
        _mm256_extract_epi64::<2>(held),
        _mm256_extract_epi64::<3>(held),
    ];
    let (fours, _) = out.as_chunks_mut::<4>();
    for (four, quarter) in fours.iter_mut().zip(quarters) {
        *four = [
            quarter as u16,
            (quarter >> 16) as u16,
            (quarter >> 32) as u16,
            (quarter >> 48) as u16,
        ];
    }
}
