//! Bring-ups with typed readings.
