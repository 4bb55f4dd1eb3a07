//! Readings and the options of their fit.

use crate::handle;
use crate::pointer::{self, Growing};
use crate::refusal::Refusal;
use crate::status::elb_status;
use model::fit::{Approach, ContactMark, FitOptions, Readings};

/// From which side a position was reached.
pub const ELB_APPROACH_ABOVE: i8 = -1;
/// Nobody wrote down from which side a position was reached.
pub const ELB_APPROACH_UNKNOWN: i8 = 0;
/// The drive angle rose to this reading.
pub const ELB_APPROACH_BELOW: i8 = 1;

/// No contact was noted at this reading.
pub const ELB_CONTACT_NONE: u8 = 0;
/// The joint touched the stop at the lower end of the drive angles.
pub const ELB_CONTACT_LOWER: u8 = 1;
/// The joint touched the stop at the upper end of the drive angles.
pub const ELB_CONTACT_UPPER: u8 = 2;
/// The joint touched a stop here; which one follows from where the reading lies.
pub const ELB_CONTACT_HERE: u8 = 3;

/// Readings of one joint: what the servo was told and what the joint did. Begin with elb_readings_init.
///
/// Every array has `n` elements; one element of each is one reading, in any order, repeats welcome. The arrays are read
/// during the call and not kept. Fields are only ever appended.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_readings {
    /// Bytes of this struct as the caller knows it; set by elb_readings_init.
    pub size: usize,
    /// How many readings.
    pub n: usize,
    /// The drive angles commanded, deg (or pulse widths: then every result along the drive is in that unit).
    pub drive: *const f64,
    /// The values measured at rest, in any unit; in that of the joint's commands where elb_robot_with_fit shall take the fit.
    pub measured: *const f64,
    /// From which side each position was reached: ELB_APPROACH_... Nullable.
    pub approach: *const i8,
    /// Contact noted by hand: ELB_CONTACT_... Nullable.
    pub contact: *const u8,
    /// Standard uncertainty of each measured value, in its unit. Nullable: all alike, found from the scatter.
    pub u: *const f64,
    /// When each reading was taken, s, counted from any moment. Nullable: nothing is known of it. It shows which readings
    /// were taken while the drive moved, and from which side each position was reached where `approach` is NULL.
    pub time: *const f64,
}

// SAFETY: `repr(C)`, begins with its size, and holds numbers and raw pointers only.
unsafe impl Growing for elb_readings {
    const WHAT: &'static str = "elb_readings";

    fn defaults() -> Self {
        Self {
            size: size_of::<Self>(),
            n: 0,
            drive: std::ptr::null(),
            measured: std::ptr::null(),
            approach: std::ptr::null(),
            contact: std::ptr::null(),
            u: std::ptr::null(),
            time: std::ptr::null(),
        }
    }
}

/// The options of a fit. Begin with elb_fit_options_init. Fields are only ever appended.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_fit_options {
    /// Bytes of this struct as the caller knows it; set by elb_fit_options_init.
    pub size: usize,
    /// Margin kept between contact and travel, in drive angle; 0 or more. Default 2.
    pub guard: f64,
    /// Coverage probability of every interval, 0.5 to 0.9999. Default 0.95.
    pub confidence: f64,
    /// Smallest step that the measured value can show (ADC step, graduation), in its unit. 0, the default: not known.
    pub resolution: f64,
}

// SAFETY: `repr(C)`, begins with its size, and holds numbers only.
unsafe impl Growing for elb_fit_options {
    const WHAT: &'static str = "elb_fit_options";

    fn defaults() -> Self {
        let options = FitOptions::default();
        Self {
            size: size_of::<Self>(),
            guard: options.guard,
            confidence: options.confidence,
            resolution: options.resolution.unwrap_or(0.0),
        }
    }
}

/// ---- Limits from readings ----
///
/// ----
///
/// Sets readings to none, and notes the struct's size.
///
/// - size: `sizeof(elb_readings)`, as the caller's header has it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_readings_init(readings: *mut elb_readings, size: usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { handle::init(readings, size) }
}

/// Sets options to their defaults, and notes the struct's size.
///
/// - size: `sizeof(elb_fit_options)`, as the caller's header has it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_options_init(options: *mut elb_fit_options, size: usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { handle::init(options, size) }
}

/// The arrays of `elb_readings`, checked and translated.
pub(crate) struct Given<'a> {
    drive: &'a [f64],
    measured: &'a [f64],
    u: Option<&'a [f64]>,
    time: Option<&'a [f64]>,
    approach: Option<Vec<Approach>>,
    contact: Option<Vec<ContactMark>>,
}

impl<'a> Given<'a> {
    pub(crate) unsafe fn read(readings: *const elb_readings) -> Result<Self, Refusal> {
        // SAFETY: the header's contract.
        let readings = unsafe { pointer::read_sized(readings)? };
        let n = readings.n;
        // SAFETY: the header's contract.
        let (drive, measured, approach, contact, u, time) = unsafe {
            (
                pointer::array("readings.drive", readings.drive, n)?,
                pointer::array("readings.measured", readings.measured, n)?,
                pointer::optional_array("readings.approach", readings.approach, n)?,
                pointer::optional_array("readings.contact", readings.contact, n)?,
                pointer::optional_array("readings.u", readings.u, n)?,
                pointer::optional_array("readings.time", readings.time, n)?,
            )
        };
        Ok(Self {
            drive,
            measured,
            u,
            time,
            approach: approach.map(approaches).transpose()?,
            contact: contact.map(contacts).transpose()?,
        })
    }

    pub(crate) fn readings(&self) -> Readings<'_> {
        let mut readings = Readings::new(self.drive, self.measured);
        readings.approach = self.approach.as_deref();
        readings.contact = self.contact.as_deref();
        readings.u = self.u;
        readings.time = self.time;
        readings
    }
}

/// The options of the caller, or the defaults.
pub(crate) unsafe fn asked(options: *const elb_fit_options) -> Result<FitOptions, Refusal> {
    let options = if options.is_null() {
        elb_fit_options::defaults()
    } else {
        // SAFETY: the header's contract.
        unsafe { pointer::read_sized(options)? }
    };
    let mut asked = FitOptions::default()
        .with_guard(options.guard)
        .with_confidence(options.confidence);
    asked.resolution = (options.resolution != 0.0).then_some(options.resolution);
    Ok(asked)
}

/// Columns of readings between the stops, as the fits of transmissions take them.
pub(crate) struct Columns<'a> {
    drive: &'a [f64],
    measured: &'a [f64],
    approach: Option<Vec<Approach>>,
}

impl<'a> Columns<'a> {
    pub(crate) unsafe fn read(
        drive: *const f64,
        measured: *const f64,
        approach: *const i8,
        n: usize,
    ) -> Result<Self, Refusal> {
        // SAFETY: the header's contract.
        let (drive, measured, approach) = unsafe {
            (
                pointer::array("drive", drive, n)?,
                pointer::array("measured", measured, n)?,
                pointer::optional_array("approach", approach, n)?,
            )
        };
        let approach = approach.map(|numbers| sides("approach", numbers)).transpose()?;
        Ok(Self {
            drive,
            measured,
            approach,
        })
    }

    pub(crate) fn readings(&self) -> Readings<'_> {
        let mut readings = Readings::new(self.drive, self.measured);
        readings.approach = self.approach.as_deref();
        readings
    }
}

/// The number of a side: ELB_APPROACH_...
pub(crate) fn number_of(approach: Approach) -> i8 {
    match approach {
        Approach::Above => ELB_APPROACH_ABOVE,
        Approach::Unknown => ELB_APPROACH_UNKNOWN,
        Approach::Below => ELB_APPROACH_BELOW,
    }
}

/// The side of one number.
pub(crate) fn side_of(number: i8) -> Result<Approach, Refusal> {
    let sides = sides("approach", &[number])?;
    Ok(sides.first().copied().unwrap_or_default())
}

pub(crate) fn approaches(numbers: &[i8]) -> Result<Vec<Approach>, Refusal> {
    sides("readings.approach", numbers)
}

fn sides(what: &'static str, numbers: &[i8]) -> Result<Vec<Approach>, Refusal> {
    numbers
        .iter()
        .enumerate()
        .map(|(index, &number)| match number {
            ELB_APPROACH_ABOVE => Ok(Approach::Above),
            ELB_APPROACH_UNKNOWN => Ok(Approach::Unknown),
            ELB_APPROACH_BELOW => Ok(Approach::Below),
            _ => Err(Refusal::ValueAt {
                what,
                index,
                given: number.into(),
                right: "-1 (above), 0 (unknown) or 1 (below)",
            }),
        })
        .collect()
}

fn contacts(numbers: &[u8]) -> Result<Vec<ContactMark>, Refusal> {
    numbers
        .iter()
        .enumerate()
        .map(|(index, &number)| match number {
            ELB_CONTACT_NONE => Ok(ContactMark::None),
            ELB_CONTACT_HERE => Ok(ContactMark::Here),
            ELB_CONTACT_LOWER => Ok(ContactMark::Lower),
            ELB_CONTACT_UPPER => Ok(ContactMark::Upper),
            _ => Err(Refusal::ValueAt {
                what: "readings.contact",
                index,
                given: number.into(),
                right: "0 (none), 1 (lower), 2 (upper) or 3 (here)",
            }),
        })
        .collect()
}
