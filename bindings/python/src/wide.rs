//! The core's batches, compiled once more for the widest vectors that this processor has. The bits are the same.
#![allow(unsafe_code, reason = "the processor is asked before what it has is used")]

use elbowroom::{ConvertError, CountNumber, Joint, Real};

/// Writes a call in as many copies as there are kinds of processors, and the choice between them.
macro_rules! widest {
    ($(fn $name:ident<$($number:ident: $bound:path),*>($($given:ident: $kind:ty),*) = $fused:expr, else $plain:expr;)*) => {$(
        pub(crate) fn $name<$($number: $bound),*>($($given: $kind),*) -> Result<(), ConvertError> {
            #[cfg(target_arch = "x86_64")]
            {
                #[target_feature(enable = "avx512f,avx512bw,avx512dq,avx512vl")]
                fn widest<$($number: $bound),*>($($given: $kind),*) -> Result<(), ConvertError> {
                    $fused
                }
                #[target_feature(enable = "avx2,fma")]
                fn wide<$($number: $bound),*>($($given: $kind),*) -> Result<(), ConvertError> {
                    $fused
                }
                use std::arch::is_x86_feature_detected as has;
                if has!("avx512f") && has!("avx512bw") && has!("avx512dq") && has!("avx512vl") {
                    // SAFETY: this processor has all four.
                    return unsafe { widest($($given),*) };
                }
                if has!("avx2") && has!("fma") {
                    // SAFETY: this processor has both.
                    return unsafe { wide($($given),*) };
                }
            }
            // Each processor of this kind has fused products.
            #[cfg(target_arch = "aarch64")]
            return $fused;
            #[cfg(not(target_arch = "aarch64"))]
            $plain
        }
    )*};
}

widest! {
    fn drives<T: Real>(joint: &Joint<T>, from: &[T], to: &mut [T]) = joint.drive_batch_fused(from, to), else joint.drive_batch(from, to);
    fn drives_in_place<T: Real>(joint: &Joint<T>, values: &mut [T]) = joint.drive_in_place_fused(values), else joint.drive_in_place(values);
    fn pulses<T: Real>(joint: &Joint<T>, from: &[T], to: &mut [T]) = joint.pulse_us_batch_fused(from, to), else joint.pulse_us_batch(from, to);
    fn pulses_in_place<T: Real>(joint: &Joint<T>, values: &mut [T]) = joint.pulse_us_in_place_fused(values), else joint.pulse_us_in_place(values);
    fn counts<T: Real, U: CountNumber>(joint: &Joint<T>, from: &[T], to: &mut [U]) = joint.counts_batch_as(from, to), else joint.counts_batch_as(from, to);
}
