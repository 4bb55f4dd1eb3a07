//! The Python package's compiled half: types, shapes and errors translated. No arithmetic and no rule of its own.
#![deny(unsafe_code)]

mod arrays;
mod block;
mod bring_in;
mod bring_up;
mod bring_up_plans;
mod chain;
mod choice;
mod curve_fit;
mod evidence;
mod feedback;
mod files;
mod fit;
mod fitted;
mod follow;
mod joint;
mod limit_fit;
mod line;
mod linkage_fit;
mod look;
mod numbers;
mod path;
mod pulse;
mod ramp;
mod records;
mod refuse;
mod rehearsal;
mod repair;
mod robot;
mod sides;
mod table;
mod transmission;
mod wide;

use pyo3::prelude::*;
use pyo3::types::PyDict;

/// The compiled half of `elbowroom`; import the package, not this.
// Classes are frozen and nothing is shared, but the tests have never run on a free-threaded interpreter: until they have, the module
// asks for the lock there.
#[pymodule(gil_used = true)]
mod _core {
    use super::*;

    #[pymodule_export]
    use super::bring_in::{names_fault, table_readings, table_rows};
    #[pymodule_export]
    use super::bring_up::{
        Bracket, Procedure, alignment_figures, alignment_reading, alignment_spare, bench_first_moves, outcome_baseline,
        outcome_put, reached_from, sense_advice, session_first_moves, sweep_places,
    };
    #[pymodule_export]
    use super::bring_up_plans::usual;
    #[pymodule_export]
    use super::choice::{Candidate, Choice, transmission_choose};
    #[pymodule_export]
    use super::curve_fit::{CurveFit, curve_fit};
    #[pymodule_export]
    use super::evidence::rules;
    #[pymodule_export]
    use super::feedback::{FeedbackFit, feedback_fit};
    #[pymodule_export]
    use super::files::{file_bytes, file_write, urdf};
    #[pymodule_export]
    use super::fit::{fit_compare, fit_limits, positioning, robot_compare};
    #[pymodule_export]
    use super::follow::FollowCheck;
    #[pymodule_export]
    use super::joint::Joint;
    #[pymodule_export]
    use super::limit_fit::LimitFit;
    #[pymodule_export]
    use super::line::{LineFit, line_fit};
    #[pymodule_export]
    use super::linkage_fit::{LinkageFit, linkage_fit, linkage_moved};
    #[pymodule_export]
    use super::look::{rounded, statistic};
    #[pymodule_export]
    use super::pulse::{Servo, Timer};
    #[pymodule_export]
    use super::ramp::{JointRamp, Ramp};
    #[pymodule_export]
    use super::rehearsal::{Person, VirtualJoint, rehearsal, rehearse, rehearsed_faults};
    #[pymodule_export]
    use super::robot::{Robot, robot_from_text, unit_to_si};

    #[pymodule_init]
    fn init(module: &Bound<'_, PyModule>) -> PyResult<()> {
        // Defaults, written once in the core.
        module.add("MOST_KNOTS", elbowroom::fit::MOST_KNOTS)?;
        module.add("LOOK", crate::look::look(module.py())?)?;
        // The look that all pictures share, on light paper.
        let (colours, labels) = (PyDict::new(module.py()), PyDict::new(module.py()));
        for colour in elbowroom::look::COLOURS {
            colours.set_item(colour.name, colour.light)?;
        }
        for label in elbowroom::look::LABELS {
            labels.set_item(label.name, label.text)?;
        }
        module.add("COLOURS", colours)?;
        module.add("LABELS", labels)?;
        module.add("__version__", env!("CARGO_PKG_VERSION"))
    }
}
