//! Arithmetic that knows no joint: small dense systems, orthogonal columns, places of a sign's change, scales that start again, trends that turn back, quantiles, repeats, polynomials, monotone steps, the steps of a scale.

pub(crate) mod crossing;
pub(crate) mod dense;
pub(super) mod monotone;
pub(super) mod orthogonal;
pub(super) mod polynomial;
pub(crate) mod quantile;
pub(super) mod resolution;
pub(super) mod reversal;
pub(crate) mod turn;
pub(super) mod univariate;
