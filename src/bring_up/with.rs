//! How a plan is written: the usual one, then what is to be otherwise.

/// Methods `with_…` that give the same plan with one field set.
macro_rules! with {
    ($plan:ident { $($method:ident $field:ident: $kind:ty,)+ }) => {
        impl $plan {
            $(
                #[doc = concat!("The same with another [`", stringify!($field), "`](Self::", stringify!($field), ").")]
                #[must_use]
                pub const fn $method(mut self, $field: $kind) -> Self {
                    self.$field = $field;
                    self
                }
            )+
        }
    };
}
pub(super) use with;
