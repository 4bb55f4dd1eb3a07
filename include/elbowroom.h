// SPDX-FileCopyrightText: 2026 The elbowroom developers
// SPDX-License-Identifier: MIT

/// @file elbowroom.h
/// elbowroom: one checked calibration model for servo joints, in plain C.
///
/// # I want to ...
///
/// | I want to ...                                      | calls, in this order                                                   |
/// | -------------------------------------------------- | ---------------------------------------------------------------------- |
/// | send a command to a servo                          | elb_joint_config_init, elb_joint_new, elb_joint_counts (or elb_joint_pulse_us, elb_joint_drive), elb_joint_free |
/// | do so in a control loop, with a soft start         | elb_robot_load, elb_robot_find, elb_robot_joint_at, elb_ramp_of_joint; each frame elb_ramp_step, elb_joint_counts; elb_ramp_free, elb_robot_free |
/// | send all joints of a robot, in any unit            | elb_robot_find, elb_robot_unit_at; each frame elb_robot_counts         |
/// | limit the rate of any value                        | elb_ramp_new or elb_ramp_per_cycle; each cycle elb_ramp_follow; elb_ramp_reset after a stop; elb_ramp_limit while it moves |
/// | know whether the joint follows its commands        | elb_follow_check_new; each cycle elb_follow_check_tick_reading (or elb_follow_check_tick); elb_follow_check_reset after a stop; elb_follow_check_free |
/// | know where the joint is                            | elb_joint_reading_state, then elb_joint_command_from_reading or elb_joint_angle_from_reading |
/// | know whether a broken wire can be detected         | elb_joint_detects_wire_faults                                          |
/// | convert whole arrays                               | elb_joint_counts_batch, elb_joint_drive_batch, elb_joint_pulse_us_batch; back elb_joint_command_from_counts_batch |
/// | know how many commands are clamped                 | elb_joint_tally                                                        |
/// | find how far a joint can go                        | elb_readings_init, elb_fit_options_init, elb_fit_limits, elb_fit_end_of, elb_fit_travel, elb_fit_free |
/// | do so for many joints at once                      | elb_fit_many                                                           |
/// | know the line, the lost motion, the scatter        | elb_fit_line_of, elb_fit_lost_motion, elb_fit_repeatability            |
/// | know which readings were left out, and why         | elb_fit_rejected_count, elb_fit_rejected, elb_reject_name, elb_fit_rejected_slip |
/// | show a number as a word                            | elb_status_name, elb_clamped_name, elb_reading_name, elb_follow_name, elb_end_name, elb_reject_name, elb_severity_name |
/// | know what to measure next                          | elb_fit_advice, elb_fit_next_reading; elb_fit_warning_count, elb_fit_warning |
/// | use a robot file                                   | elb_robot_load (or elb_robot_parse), elb_robot_find, elb_robot_joint_at, elb_robot_entry_at, elb_robot_free |
/// | check it                                           | elb_robot_check, elb_findings_count, elb_findings_at, elb_findings_free |
/// | compare it with a URDF file                        | elb_robot_check_urdf; then as for elb_robot_check                      |
/// | write a result into it                             | elb_robot_with_fit, elb_robot_with_session or elb_robot_with_joint; elb_robot_save |
/// | give measured limits to a planner or simulator     | elb_robot_limits_into, elb_description_text, elb_description_joint_at, elb_description_free |
/// | bring a joint up by its own sensor                 | elb_session_config_init, elb_session_new; elb_session_next, elb_session_report until done; elb_session_outcome, elb_robot_with_session, elb_session_free |
/// | bring a joint up by typed readings                 | elb_bench_config_init, elb_session_new_bench; elb_session_prompt, elb_session_report, elb_session_undo until done |
/// | save a bring-up and continue it later              | elb_session_json, elb_session_parse                                    |
/// | determine what has changed since the last bring-up | elb_session_config_set_baseline_of_joint before elb_session_new        |
/// | use a joint on a microcontroller                   | on the desktop elb_robot_block or elb_joint_block; on the board elb_block_check, elb_block_counts, elb_block_step |
/// | fit a curve or a linkage, calibrate a sensor, compare two fits, evaluate positioning | elbowroom_analysis.h                                                   |
///
/// Eight calls are enough for a control loop: elb_robot_load, elb_robot_find, elb_robot_joint_at, elb_ramp_of_joint,
/// elb_ramp_step, elb_joint_counts, elb_ramp_free, elb_robot_free. With a joint's ramp the flags come from elb_ramp_step: it holds
/// the target to what the joint can reach. Nothing is left for elb_joint_counts to clamp then, unless the ramp was started out of
/// reach: until it has come in, its values are beyond, and the flags of elb_joint_counts report it.
///
/// Loading refuses a file that cannot be read and a joint whose numbers cannot work. It does not compare joints with each other or
/// with their evidence, and does not ensure that a joint was ever measured: before a machine runs, check its file with
/// elb_robot_check and show what elb_findings_at gives. ELB_SEVERITY_ERROR there means that the joint must not run.
///
/// # What it is
///
/// A joint states which command of your software is which drive angle of its servo, which pulse width and which timer
/// count that is, and how far the joint may go. This library checks such a joint once, when it is made, and then
/// converts: commands to drive angles, pulse widths and counts, and each of them back. It also finds the limits of a
/// joint from measured readings, with their uncertainty; it leads through a bring-up, reads and checks robot files, and
/// writes blocks for microcontrollers. elbowroom_analysis.h adds what lies behind a fit; it is outside the ABI promise.
/// The library computes; it touches no hardware, prints nothing, keeps no global state, and opens no file but the one that
/// elb_robot_load or elb_robot_save names.
///
/// The statuses, constants and structs come first, then the calls in groups, in reading order: joints; one value towards the
/// motor and back; arrays; the sensor; limits from readings; robot files; all joints in one call; checking; soft start;
/// whether a joint follows; bring-up; blocks.
///
/// # An example
///
/// 1. Fill a struct (its init call sets size and defaults), or parse a robot file.
/// 2. Make the handle. All that can be wrong with a joint is reported here, in a sentence.
/// 3. Convert. From now on only the number given can be wrong.
///
/// ~~~{.c}
/// #include <elbowroom.h>
/// #include <stdio.h>
///
/// int main(void) {
///     elb_joint_config config;
///     elb_joint *joint;
///     elb_error error;
///     elb_conversion counts;
///     if (elb_joint_config_init(&config, sizeof config)) return 1;
///     config.command[0] = -40, config.command[1] = 60;                     // command -40 to 60 ...
///     config.drive[0] = 37, config.drive[1] = 122;                         // ... on drive 37 to 122 deg
///     config.rest = 10;
///     config.servo.pulse_us[0] = 500, config.servo.pulse_us[1] = 2500;     // at 0 and 180 deg
///     config.timer.counts_per_frame = 4096;                                // of one frame at 50 Hz
///     if (elb_joint_new(&config, &joint, &error)) return puts(error.message), 1;
///     if (elb_joint_counts(joint, 10, &counts) == ELB_STATUS_OK) printf("%g\n", counts.value);    // 283
///     elb_joint_free(joint);
///     return 0;
/// }
/// ~~~
///
/// Build: `cc main.c $(pkg-config --cflags --libs elbowroom)`. In C++, elbowroom.hpp adds owners and exceptions.
///
/// # How long things live
///
/// | what                                         | lives until                                                            |
/// | -------------------------------------------- | ---------------------------------------------------------------------- |
/// | a handle from a ..._new, ..._clone, ..._parse, ..._load, ..._with_... call or a fit | you free it, once, with the ..._free of its type; typically from start to end of the program |
/// | a const handle, e.g. from elb_robot_joint_at | its owner is freed; elb_joint_clone makes one that you own              |
/// | a text (const char *) taken from a handle    | that handle is freed                                                   |
/// | a text from elb_..._name, elb_status_text, elb_version | the end of the program; never free it                                  |
/// | your buffers, configs and readings           | the call returns; the library keeps no pointer to them                 |
///
/// Freeing NULL does nothing; freeing twice is undefined, as with free(). No pointer may be NULL unless the call's
/// "Nullable" names it; NULL and misaligned pointers are refused. Buffers are pointer and number of elements. What a
/// library cannot check, that a pointer really points to that many elements, is your responsibility.
///
/// # What a call costs
///
/// The least time of many runs on one core of a server of 2026 (x86-64); `benches/c/run` prints the table for your machine.
/// Calls in the first part never allocate and take a bounded number of steps, so they may run in a control loop.
///
/// | call                                         | time     |
/// | -------------------------------------------- | -------- |
/// | elb_joint_counts                             | 11 ns    |
/// | elb_joint_counts, linkage                    | 130 ns   |
/// | elb_joint_command_from_counts                | 30 ns    |
/// | elb_joint_command_from_reading               | 15 ns    |
/// | elb_joint_counts_batch, each value           | 0.5 ns   |
/// | elb_robot_counts, each joint                 | 26 ns    |
/// | elb_ramp_follow                              | 18 ns    |
/// | at start: elb_joint_new                      | 1.7 us   |
/// | at start: elb_robot_load, 17 joints          | 0.6 ms   |
/// | elb_robot_check, 17 joints                   | 18 us    |
/// | elb_fit_limits, 42 readings                  | 0.1 ms   |
///
/// # Units
///
/// A command is in the joint's own unit. Drive angles are degrees of the servo's own travel, pulse widths are
/// microseconds (..._us), rates are per second (..._per_s), frames are in hertz (..._hz). Pairs are lower, then upper.
///
/// # Status and errors
///
/// Every call that can fail returns an elb_status; ELB_STATUS_OK is 0. Results come through pointers named `out` (or by
/// what they are) and are untouched when the call fails; `done` of a batch and the length of a result that found no room are
/// the exceptions. elb_status_text gives the general sentence. Calls with an `error` parameter fill the caller's elb_error with
/// the full sentence: what is wrong, which value and where, and what would be right. There is no "last error".
///
/// Every call may return ELB_STATUS_NULL_POINTER and ELB_STATUS_MISALIGNED, and one that takes an array, a length or a
/// struct with `size` ELB_STATUS_BAD_SIZE; "Errors" at a call names the others. A call that has nothing to give returns
/// ELB_STATUS_ABSENT, a number of a struct that has no value is NaN, and a missing end is ELB_SIDE_NONE. A fault inside the
/// library returns ELB_STATUS_INTERNAL_FAULT: nothing unwinds, nothing aborts. (The exception is a system without memory.)
///
/// ## What to do about a status
///
/// | status                                       | what to do                                                             |
/// | -------------------------------------------- | ---------------------------------------------------------------------- |
/// | ELB_STATUS_OK                                | use the result; look at its flags, if it has any                       |
/// | ELB_STATUS_NOT_FINITE from a conversion      | send nothing; the servo keeps its position; find where the NaN comes from |
/// | ELB_STATUS_NULL_POINTER, ELB_STATUS_MISALIGNED, ELB_STATUS_BAD_SIZE, ELB_STATUS_OVERLAP, ELB_STATUS_UNKNOWN_VALUE, ELB_STATUS_LENGTH_MISMATCH, ELB_STATUS_NOT_UTF8 | a mistake in the calling program: correct the argument; for a struct call its init function first |
/// | ELB_STATUS_ABSENT                            | nothing failed: this handle has no such result; continue without it       |
/// | ELB_STATUS_NO_ROOM, ELB_STATUS_COUNT_TOO_WIDE | give a larger buffer, or the call for 32 bits                         |
/// | ELB_STATUS_ENDS_SWAPPED                      | write the lower end first; to invert a joint set `inverted`            |
/// | ELB_STATUS_ZERO_WIDTH, ELB_STATUS_OUTSIDE_SERVO, ELB_STATUS_REST_OUTSIDE, ELB_STATUS_TRAVEL_DISJOINT, ELB_STATUS_TIMER_INVALID, ELB_STATUS_NO_COUNT_IN_TRAVEL, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_TRANSMISSION_INVALID, ELB_STATUS_FEEDBACK_INVALID | the joint is refused: correct the number that error.message names |
/// | ELB_STATUS_NO_FEEDBACK                       | give the joint a feedback map, or do not ask for its position          |
/// | ELB_STATUS_TOO_FEW_READINGS, ELB_STATUS_DRIVE_ANGLES_EQUAL, ELB_STATUS_APPROACH_UNKNOWN | take the readings that error.message asks for |
/// | ELB_STATUS_NO_MOTION                         | test the supply, the plug and the sensor; then measure again           |
/// | ELB_STATUS_IN_MOTION, ELB_STATUS_NO_AGREEMENT | measure again, and read only at rest                                  |
/// | ELB_STATUS_MAP_CONTRADICTED                  | correct the joint and measure again, or name another ELB_MAP_...       |
/// | ELB_STATUS_OPTION_OUTSIDE                    | correct the option that error.message names                            |
/// | ELB_STATUS_FILE_SYNTAX, ELB_STATUS_UNKNOWN_KEY, ELB_STATUS_MISSING_KEY, ELB_STATUS_WRONG_TYPE, ELB_STATUS_VALUE_OUTSIDE, ELB_STATUS_UNKNOWN_WORD, ELB_STATUS_UNKNOWN_JOINT | show error.message: it has file, line, column and what to write instead |
/// | ELB_STATUS_FORMAT_TOO_NEW, ELB_STATUS_BLOCK_VERSION | install a newer library                                         |
/// | ELB_STATUS_FILE_ACCESS, ELB_STATUS_FILE_TOO_LONG | test the path, the permissions and the file                        |
/// | ELB_STATUS_FILE_CHANGED                      | load the file again, apply the change again, save again                |
/// | ELB_STATUS_BLOCK_LENGTH, ELB_STATUS_BLOCK_BAD_MAGIC, ELB_STATUS_BLOCK_CHECKSUM, ELB_STATUS_BLOCK_INVALID | drive nothing; write the block to the board again |
/// | ELB_STATUS_UNKNOWN_CHANNEL                   | drive nothing on this channel; write the block of the right board      |
/// | ELB_STATUS_CHANNEL_TWICE, ELB_STATUS_BLOCK_FULL | correct the channels in the robot file, or divide the joints among boards |
/// | ELB_STATUS_WRONG_REPORT                      | call elb_session_next again and report what it asks for                |
/// | ELB_STATUS_PROCEDURE_DONE                    | read the outcome; a new bring-up needs a new session                   |
/// | ELB_STATUS_INTERNAL_FAULT                    | send nothing; report it to the developers with error.message           |
/// | ELB_STATUS_OTHER, and any number you do not know | treat it as a failure; elb_status_text has a sentence              |
///
/// # NaN
///
/// Towards the motor NaN and infinities are refused, and no result is written. Back from the motor nothing is clamped
/// and NaN gives NaN: a measured position outside the travel is information, and a gap in a log stays a gap.
///
/// # Threads
///
/// Handles never change after they are made: any number of threads may use one at once without locks. (An elb_session,
/// elb_ramp or elb_follow_check is the exception: one thread at a time.) Make sure that no thread uses a handle when you free it.
///
/// # Versions
///
/// Numbers of statuses and constants, the layout of structs and the meaning of calls never change while the SONAME
/// (libelbowroom.so.0) stays. What may come: new calls, new statuses, new constants, new fields at the end of structs
/// that begin with `size`. Such a struct works with older and newer libraries: missing fields take their defaults, and
/// fields that a library does not know must be zero. Structs without `size` are frozen.
///
/// The same input gives the same bits on every machine, in every build and language.
///
/// # Cautions
///
/// This is not a safety function in the sense of ISO 13849 or IEC 61508: it computes and cannot stop a motor. Unload the
/// drive and take the load off before a polarity test, keep a hand on the power switch, make the first move slow, and never
/// search a stop under a person's hand. Local codes and licensed practice come first.

// This file is generated from bindings/c/src; do not edit it.

#ifndef ELBOWROOM_H
#define ELBOWROOM_H

#include <stddef.h>
#include <stdint.h>

// Where double has 32 bits, as on an AVR, there are only the elb_block_... calls.
#if !defined(ELB_BLOCKS_ONLY) && defined(__SIZEOF_DOUBLE__)
#if __SIZEOF_DOUBLE__ < 8
#define ELB_BLOCKS_ONLY
#endif
#endif

#if defined(__GNUC__) || defined(__clang__)
/// Marks calls whose status must not be ignored: after a refused command there is no result to send.
#define ELB_MUST_USE __attribute__((warn_unused_result))
#else
/// Marks calls whose status must not be ignored: after a refused command there is no result to send.
#define ELB_MUST_USE
#endif

#if defined(__cplusplus)
/// No call throws.
#define ELB_NOEXCEPT noexcept
#else
/// No call throws.
#define ELB_NOEXCEPT
#endif

/// The version of this header: major.
#define ELB_VERSION_MAJOR 0

/// The version of this header: minor.
#define ELB_VERSION_MINOR 1

/// The version of this header: patch.
#define ELB_VERSION_PATCH 0

/// The version of this header as one number that only grows: major, minor and patch, three digits each.
#define ELB_VERSION_NUMBER 1000

/// What a call came to.
///
/// Numbers are frozen: never reused, never changed in meaning. Later versions add more; treat a number that you do not
/// know as ELB_STATUS_OTHER. The same numbers and names are used in Rust, Python and the shell.
enum elb_status
#if defined(__cplusplus) || __STDC_VERSION__ >= 202311L
  : int32_t
#endif // defined(__cplusplus) || __STDC_VERSION__ >= 202311L
 {
    /// Success.
    ELB_STATUS_OK = 0,
    /// Anything without a code of its own.
    ELB_STATUS_OTHER = 1,
    /// A pointer that must not be NULL is NULL.
    ELB_STATUS_NULL_POINTER = 2,
    /// A struct's size or a length cannot be used; give the struct's init call its sizeof, and each array its length.
    ELB_STATUS_BAD_SIZE = 3,
    /// A text is not UTF-8.
    ELB_STATUS_NOT_UTF8 = 4,
    /// A fault inside the library; nothing was changed.
    ELB_STATUS_INTERNAL_FAULT = 5,
    /// An output overlaps its input in part.
    ELB_STATUS_OVERLAP = 6,
    /// A field or argument holds a number without a meaning.
    ELB_STATUS_UNKNOWN_VALUE = 7,
    /// A pointer is not aligned as its type needs.
    ELB_STATUS_MISALIGNED = 8,
    /// What was asked for does not exist: an index past the end, or a result that this fit does not have.
    ELB_STATUS_ABSENT = 9,
    /// A value is NaN or infinite where a number is needed.
    ELB_STATUS_NOT_FINITE = 10,
    /// A pair of ends is given upper first.
    ELB_STATUS_ENDS_SWAPPED = 11,
    /// A pair of ends encloses nothing.
    ELB_STATUS_ZERO_WIDTH = 12,
    /// An angle lies outside the servo's angle range.
    ELB_STATUS_OUTSIDE_SERVO = 13,
    /// The rest lies outside the command range.
    ELB_STATUS_REST_OUTSIDE = 14,
    /// Travel and drive range have no angle in common.
    ELB_STATUS_TRAVEL_DISJOINT = 15,
    /// Frame rate, counts or pulse width cannot work together.
    ELB_STATUS_TIMER_INVALID = 16,
    /// No timer count commands an angle inside the travel.
    ELB_STATUS_NO_COUNT_IN_TRAVEL = 17,
    /// A number that must be above zero is not.
    ELB_STATUS_NOT_POSITIVE = 18,
    /// Two arrays that belong together differ in length.
    ELB_STATUS_LENGTH_MISMATCH = 19,
    /// A count needs more bits than the array's numbers have.
    ELB_STATUS_COUNT_TOO_WIDE = 20,
    /// The joint has no feedback map.
    ELB_STATUS_NO_FEEDBACK = 21,
    /// A transmission's parameters describe no usable mechanism.
    ELB_STATUS_TRANSMISSION_INVALID = 22,
    /// A feedback map's numbers describe no usable sensor.
    ELB_STATUS_FEEDBACK_INVALID = 23,
    /// Too few readings for the question asked.
    ELB_STATUS_TOO_FEW_READINGS = 30,
    /// All commands are equal, or too few of them differ.
    ELB_STATUS_DRIVE_ANGLES_EQUAL = 31,
    /// The measured value did not follow the command.
    ELB_STATUS_NO_MOTION = 32,
    /// An option is outside its range.
    ELB_STATUS_OPTION_OUTSIDE = 33,
    /// The readings were taken while the joint moved.
    ELB_STATUS_IN_MOTION = 34,
    /// Too many readings disagree with each other.
    ELB_STATUS_NO_AGREEMENT = 35,
    /// The side from which positions were reached is not given.
    ELB_STATUS_APPROACH_UNKNOWN = 36,
    /// Readings contradict the map from command to drive angle that stands in the file.
    ELB_STATUS_MAP_CONTRADICTED = 37,
    /// The text is not TOML.
    ELB_STATUS_FILE_SYNTAX = 50,
    /// A key is not known here.
    ELB_STATUS_UNKNOWN_KEY = 51,
    /// A key is missing.
    ELB_STATUS_MISSING_KEY = 52,
    /// A value has the wrong type or form.
    ELB_STATUS_WRONG_TYPE = 53,
    /// The file's format is newer than this library reads.
    ELB_STATUS_FORMAT_TOO_NEW = 54,
    /// No joint has this name.
    ELB_STATUS_UNKNOWN_JOINT = 55,
    /// The file could not be read or written.
    ELB_STATUS_FILE_ACCESS = 56,
    /// A number in a file is outside its range.
    ELB_STATUS_VALUE_OUTSIDE = 57,
    /// A word is not one of those that are allowed here.
    ELB_STATUS_UNKNOWN_WORD = 58,
    /// A file was changed by others since it was read.
    ELB_STATUS_FILE_CHANGED = 59,
    /// A file is longer than the limit.
    ELB_STATUS_FILE_TOO_LONG = 60,
    /// An image is shorter or longer than its header states, or there is too little room to write one.
    ELB_STATUS_BLOCK_LENGTH = 80,
    /// The bytes do not begin with those of a block.
    ELB_STATUS_BLOCK_BAD_MAGIC = 81,
    /// The block's version is not known here.
    ELB_STATUS_BLOCK_VERSION = 82,
    /// The bytes are not those that were written.
    ELB_STATUS_BLOCK_CHECKSUM = 83,
    /// The checksum is right, but the contents of the block contradict each other.
    ELB_STATUS_BLOCK_INVALID = 84,
    /// The block holds no joint of this channel.
    ELB_STATUS_UNKNOWN_CHANNEL = 85,
    /// Two joints of a block share a channel.
    ELB_STATUS_CHANNEL_TWICE = 86,
    /// A joint or robot that a block cannot hold.
    ELB_STATUS_BLOCK_FULL = 87,
    /// A report or an answer does not belong to what was asked.
    ELB_STATUS_WRONG_REPORT = 100,
    /// A report after a procedure's end.
    ELB_STATUS_PROCEDURE_DONE = 101,
    /// There is too little room for the result.
    ELB_STATUS_NO_ROOM = 110,
};
#ifndef __cplusplus
#if __STDC_VERSION__ >= 202311L
typedef enum elb_status elb_status;
#else
/// A number of enum elb_status.
typedef int32_t elb_status;
#endif // __STDC_VERSION__ >= 202311L
#endif // __cplusplus

/// Flag: the command was outside the command range and was held to its nearer end.
#define ELB_CLAMPED_TO_COMMAND 1

/// Flag: the drive angle was outside the travel and was held to its nearer end.
#define ELB_CLAMPED_TO_TRAVEL 2

#if !defined(ELB_BLOCKS_ONLY)

/// Bytes of a message, the final NUL included.
#define ELB_MESSAGE_ROOM 480

/// The index of an error that is about no array element.
#define ELB_NO_INDEX 18446744073709551615ull

/// A straight line between the ends.
#define ELB_TRANSMISSION_LINEAR 0

/// A monotone curve through knots.
#define ELB_TRANSMISSION_CURVE 1

/// A linear actuator or lead screw across a hinge. Its numbers: base, arm (lengths from the hinge to the actuator's two
/// ends), angle_at_zero (between them at command 0, deg).
#define ELB_TRANSMISSION_TRIANGLE 2

/// A crank that moves a slide. Its numbers: crank, rod, offset, slide_at_zero (lengths).
#define ELB_TRANSMISSION_SLIDER_CRANK 3

/// A crank that moves a rocker through a coupler. Its numbers: crank, coupler, rocker, ground (lengths), rocker_at_zero (the rocker's
/// angle at command 0, deg).
#define ELB_TRANSMISSION_FOUR_BAR 4

/// A tendon on a drum. Its numbers: drum (radius at command 0), per_turn (what the radius gains with each turn), pulley
/// (radius at the joint).
#define ELB_TRANSMISSION_SPOOL 5

/// The pin lies counter-clockwise of the line from the shaft to the pin that it moves.
#define ELB_BRANCH_LEFT 0

/// The pin lies clockwise of that line.
#define ELB_BRANCH_RIGHT 1

/// Slopes of the parabola through three knots, held monotone: the most exact.
#define ELB_SLOPES_PARABOLA 0

/// Slopes that are the mean of two chords, held monotone.
#define ELB_SLOPES_MEAN_CHORD 1

/// Slopes that are the weighted harmonic mean of two chords.
#define ELB_SLOPES_HARMONIC_CHORD 2

/// State of a reading: within the readings of the map.
#define ELB_READING_INSIDE 0

/// State of a reading: outside them, but one that a sound sensor may give.
#define ELB_READING_OUTSIDE 1

/// State of a reading: at the bottom of the converter's range; look for a broken or shorted wire.
#define ELB_READING_LOWER_RAIL 2

/// State of a reading: at the top of the converter's range; look for a broken or shorted wire.
#define ELB_READING_UPPER_RAIL 3

/// State of a reading: none that this converter gives; NaN too.
#define ELB_READING_IMPOSSIBLE 4

/// From which side a position was reached.
#define ELB_APPROACH_ABOVE -1

/// Nobody wrote down from which side a position was reached.
#define ELB_APPROACH_UNKNOWN 0

/// The drive angle rose to this reading.
#define ELB_APPROACH_BELOW 1

/// No contact was noted at this reading.
#define ELB_CONTACT_NONE 0

/// The joint touched the stop at the lower end of the drive angles.
#define ELB_CONTACT_LOWER 1

/// The joint touched the stop at the upper end of the drive angles.
#define ELB_CONTACT_UPPER 2

/// The joint touched a stop here; which one follows from where the reading lies.
#define ELB_CONTACT_HERE 3

/// Kind of an end: there is none.
#define ELB_END_NONE 0

/// Kind of an end: no stop was found, clear to here.
#define ELB_END_CLEAR 3

/// Kind of an end: the stop was met, and placed.
#define ELB_END_CONTACT 1

/// Kind of an end: the last readings fell short of the line; something holds between `at` and `short_at`.
#define ELB_END_STALLED 2

/// Neither end.
#define ELB_SIDE_NONE 0

/// The lower end.
#define ELB_SIDE_LOWER 1

/// The upper end.
#define ELB_SIDE_UPPER 2

/// Reason for leaving a reading out: off the line, between the stops.
#define ELB_REJECT_OFF_THE_LINE 0

/// Reason for leaving a reading out: off the stop's level, on a stop.
#define ELB_REJECT_OFF_THE_STOP 1

/// Reason for leaving a reading out: taken within the lost motion after a turn, before the joint followed; no misreading.
#define ELB_REJECT_NOT_TAKEN_UP 2

/// Reason for leaving a reading out: its drive angle lies far from those of all others, and it is not on their line.
#define ELB_REJECT_DRIVE_FAR_OFF 3

/// Reason for leaving a reading out: one that this version has no number for.
#define ELB_REJECT_OTHER 255

/// Slip: none that is known would explain the value.
#define ELB_SLIP_NONE 0

/// Slip: noted with the wrong sign.
#define ELB_SLIP_SIGN 1

/// Slip: noted with the decimal point one place off.
#define ELB_SLIP_DECIMAL_PLACE 2

/// Slip: noted with two neighbouring digits exchanged.
#define ELB_SLIP_DIGITS_SWAPPED 3

/// Slip: noted ten too high or too low.
#define ELB_SLIP_TENS 4

/// Slip: the value of the neighbouring drive angle.
#define ELB_SLIP_NEIGHBOURING_ROW 5

/// Slip: one that this version has no number for; read its word.
#define ELB_SLIP_OTHER 255

/// The channel of a joint whose robot file names none.
#define ELB_NO_CHANNEL 4294967295

/// What readings do to the map from command to drive angle: nothing; readings that contradict the map are refused.
#define ELB_MAP_JUDGED 0

/// Nothing, though the readings contradict it.
#define ELB_MAP_KEPT 1

/// The line of the readings replaces it, for a joint that was repaired: drive range, direction, travel and rest follow the readings.
#define ELB_MAP_ADOPTED 2

/// Unit: the file names none.
#define ELB_UNIT_NONE 0

/// Unit: degrees, "deg".
#define ELB_UNIT_DEG 1

/// Unit: radians, "rad".
#define ELB_UNIT_RAD 2

/// Unit: full turns, "turn".
#define ELB_UNIT_TURN 3

/// Unit: millimetres, "mm".
#define ELB_UNIT_MM 4

/// Unit: centimetres, "cm".
#define ELB_UNIT_CM 5

/// Unit: metres, "m".
#define ELB_UNIT_M 6

/// Unit: inches, "in".
#define ELB_UNIT_INCH 7

/// Unit: parts of a whole, "fraction".
#define ELB_UNIT_FRACTION 8

/// Unit: hundredths of a whole, "percent".
#define ELB_UNIT_PERCENT 9

/// Unit: another word, which elb_robot_entry_at gives.
#define ELB_UNIT_OTHER 4294967295

/// A unit's factor leads to nothing: there is none.
#define ELB_SI_NONE 0

/// A unit's factor leads to radians: the joint turns.
#define ELB_SI_RADIAN 1

/// A unit's factor leads to metres: the joint slides.
#define ELB_SI_METRE 2

/// A unit's factor leads to a plain number.
#define ELB_SI_ONE 3

/// Severity of a finding: worth knowing.
#define ELB_SEVERITY_NOTE 0

/// Severity of a finding: should be corrected before the joint runs unattended.
#define ELB_SEVERITY_WARNING 1

/// Severity of a finding: the joint must not run.
#define ELB_SEVERITY_ERROR 2

/// Whether a joint follows: it is within the tolerance of the command.
#define ELB_FOLLOW_FOLLOWS 0

/// Whether a joint follows: it is further from the command, but on its way.
#define ELB_FOLLOW_LAGS 1

/// Whether a joint follows: it has been where no joint with the stated lag can be, for longer than the stated cycles. It is held,
/// overloaded, slipped or without power.
#define ELB_FOLLOW_DOES_NOT_FOLLOW 2

/// Whether a joint follows: the reading shows a fault of the sensor, not where the joint is.
#define ELB_FOLLOW_SENSOR_FAULT 3

/// Known from before: which reading belongs to which drive angle; without it the others mean nothing.
#define ELB_BASELINE_LINE 1

/// Known from before: where the joint met its lower stop.
#define ELB_BASELINE_LOWER 2

/// Known from before: where the joint met its upper stop.
#define ELB_BASELINE_UPPER 4

/// Action: bring the drive to `drive`, the command changing no faster than `max_rate_per_s`; then report ELB_ACTION_MOVE_TO.
#define ELB_ACTION_MOVE_TO 1

/// Action: let `seconds` pass; then report ELB_ACTION_WAIT.
#define ELB_ACTION_WAIT 2

/// Action: take one reading; report ELB_ACTION_READ with it.
#define ELB_ACTION_READ 3

/// Action: show the person at the joint the lines of elb_session_prompt; report ELB_ACTION_ASK with one of `answers`.
#define ELB_ACTION_ASK 4

/// Action: nothing more to do; elb_session_outcome says how it ended.
#define ELB_ACTION_DONE 5

/// Of a report: the command has arrived, and `value` is the drive angle really commanded, deg, after the rounding of
/// elb_joint_counts_from_drive. ELB_ACTION_MOVE_TO says that it arrived, and no more.
#define ELB_REPORT_MOVED_TO 6

/// Answer: it is done.
#define ELB_ANSWER_DONE 1

/// Answer: no.
#define ELB_ANSWER_NO 2

/// Answer: towards the lower end.
#define ELB_ANSWER_LOWER 4

/// Answer: towards the upper end.
#define ELB_ANSWER_UPPER 8

/// Answer: it does not move.
#define ELB_ANSWER_STILL 16

/// Answer: this joint.
#define ELB_ANSWER_JOINT 32

/// Answer: another joint.
#define ELB_ANSWER_NEIGHBOUR 64

/// Answer: the drive turns, the joint does not.
#define ELB_ANSWER_DRIVE_ONLY 128

/// Answer: nothing at all.
#define ELB_ANSWER_NOTHING 256

/// Answer: the mechanical end stop.
#define ELB_ANSWER_STOP 512

/// Answer: something that should not be there.
#define ELB_ANSWER_OBSTACLE 1024

/// Answer: an angle, deg, in `value`.
#define ELB_ANSWER_ANGLE 2048

/// Answer: the reading is in doubt; read it again.
#define ELB_ANSWER_AGAIN 4096

/// Answer: the joint stands at its stop and goes no further.
#define ELB_ANSWER_AT_STOP 8192

/// Question: is it safe to start?
#define ELB_QUESTION_READY 1

/// Question: take the load off and detach the drive.
#define ELB_QUESTION_DETACH_DRIVE 2

/// Question: turn the sensor by hand, `toward` an end, by `amount` deg.
#define ELB_QUESTION_TURN_SENSOR 3

/// Question: which way does the detached drive turn?
#define ELB_QUESTION_DRIVE_RESPONSE 4

/// Question: fix the drive to the joint again.
#define ELB_QUESTION_ATTACH_DRIVE 5

/// Question: the drive was sent to `amount` deg; what moved?
#define ELB_QUESTION_WHAT_MOVED 6

/// Question: `toward` an end the joint stays behind its drive near `amount` deg; what holds it?
#define ELB_QUESTION_WHAT_IS_MET 7

/// Question: the joint angle at a stop, by a protractor.
#define ELB_QUESTION_JOINT_ANGLE 8

/// Question: turn the sensor on its shaft until it reads `amount`.
#define ELB_QUESTION_SET_SENSOR 9

/// Question: from its mark, turn the joint by hand `toward` an end, by `amount` deg, and hold it.
#define ELB_QUESTION_TURN_FROM_MARK 10

/// Question: hold the joint by hand at its stop `toward` an end, the power off.
#define ELB_QUESTION_HOLD_AT_STOP 11

/// Question: a typed reading at `amount` deg `toward` an end stays behind the line; what held the joint?
#define ELB_QUESTION_STAYS_BEHIND 12

/// Question: one of a later version; elb_session_prompt has it in words.
#define ELB_QUESTION_OTHER 255

/// Outcome: the joint is ready for software within the travel.
#define ELB_OUTCOME_READY 1

/// Outcome: something is wrong; elb_session_prompt says what.
#define ELB_OUTCOME_FAULTY 2

/// Outcome: the person said no before anything moved.
#define ELB_OUTCOME_DECLINED 3

/// Outcome: it was stopped.
#define ELB_OUTCOME_STOPPED 4

/// Caution: this is not a safety function.
#define ELB_CAUTION_NOT_A_SAFETY_FUNCTION 1

/// Caution: local codes come first.
#define ELB_CAUTION_LOCAL_RULES 2

/// Caution: a hand on the power switch.
#define ELB_CAUTION_HAND_ON_POWER_SWITCH 4

/// Caution: nobody's hands in the joint.
#define ELB_CAUTION_NOBODY_IN_REACH 8

/// Caution: take the load off.
#define ELB_CAUTION_TAKE_LOAD_OFF 16

/// Caution: power off before hands go in.
#define ELB_CAUTION_POWER_OFF_TO_TOUCH 32

/// Caution: the detached drive may start to run.
#define ELB_CAUTION_DRIVE_MAY_RUN 64

/// Caution: the first move is slow.
#define ELB_CAUTION_FIRST_MOVE_SLOW 128

/// Caution: move the joint lightly by hand.
#define ELB_CAUTION_DO_NOT_FORCE 256

/// Caution: the drive may press on a stop.
#define ELB_CAUTION_MAY_PRESS 512

/// Caution: one of a later version; elb_session_prompt has it in words.
#define ELB_CAUTION_OTHER 2147483648

/// A robot description with the limits of a robot in it. Immutable: any number of threads may read it at once.
typedef struct elb_description elb_description;

/// Everything that a check found. Immutable: any number of threads may read it at once.
typedef struct elb_findings elb_findings;

/// What a fit found. Immutable: any number of threads may read it at once.
typedef struct elb_fit elb_fit;

/// Compares a joint with its commands. It changes with each tick: one thread at a time.
typedef struct elb_follow_check elb_follow_check;

/// A checked joint. Immutable: any number of threads may use it at once.
typedef struct elb_joint elb_joint;

/// A value on its way to its target. It changes with each step: one thread at a time.
typedef struct elb_ramp elb_ramp;

/// The checked joints of one robot file, and its text. Immutable: any number of threads may use it at once.
typedef struct elb_robot elb_robot;

/// A bring-up. It changes with each report: one thread at a time.
typedef struct elb_session elb_session;

/// A servo, by its data sheet.
typedef struct elb_servo {
    /// The servo's angle range, deg. Default 0 to 180; verify against the data sheet.
    double angle[2];
    /// The pulse widths at those angles, microseconds. No default: servos differ.
    double pulse_us[2];
} elb_servo;

/// The timer that makes the pulses.
typedef struct elb_timer {
    /// Frames per second. Default 50; verify against the data sheet.
    double frame_hz;
    /// Timer counts of one whole frame. No default.
    uint32_t counts_per_frame;
    /// Always 0.
    uint32_t reserved;
} elb_timer;

/// How a command becomes a drive angle.
typedef struct elb_transmission {
    /// ELB_TRANSMISSION_...; the default is a straight line.
    uint32_t kind;
    /// The assembly branch: where the crank's pin of a slider-crank or of a four-bar lies: ELB_BRANCH_... Else unused.
    uint32_t branch;
    /// The dimensions of a linkage, in the order that its ELB_TRANSMISSION_... constant states. Else unused.
    double dimensions[5];
    /// The knots of a curve, (n_knots x 2): command and drive angle in deg of each, commands rising, the first and the
    /// last at the ends of `command` and `drive`. Read during the call. Nullable unless `kind` is a curve.
    const double *knots;
    /// How many knots. Else 0.
    size_t n_knots;
    /// How the slopes at the knots follow from them: ELB_SLOPES_...
    uint32_t slopes;
    /// Always 0.
    uint32_t reserved;
} elb_transmission;

/// The joint's sensor: which reading stands for which joint angle.
typedef struct elb_feedback {
    /// Lower and upper reading, e.g. ADC counts. This and `angle` both 0, the default: no feedback, and the other fields mean
    /// nothing.
    double reading[2];
    /// Lower and upper joint angle, deg, as a protractor reads them at the ends of the command range.
    double angle[2];
    /// Joint angle, deg, of one turn of a sensor that wraps around: readings that pass over its jump are then refused with the
    /// joint. Conversions need it no more and never add a turn. 0, the default: it does not wrap.
    double wrap_deg;
    /// Resistance of the potentiometer from end to end, ohm. 0, the default: not known.
    double pot_ohm;
    /// Resistance from its wiper to ground through whatever reads it, ohm. 0, the default: not known.
    double load_ohm;
    /// Supply of the sensor, V, when the readings were taken. 0, the default: the readings are ratiometric.
    double supply_v;
    /// Knots of a feedback curve, (n_knots x 2): reading and joint angle in deg of each, readings rising. Nullable: the feedback is
    /// straight.
    const double *knots;
    /// How many knots. Else 0.
    size_t n_knots;
    /// Bits of the converter. 0, the default: not known.
    uint32_t adc_bits;
    /// 1 if the reading falls as the joint angle rises, else 0, the default.
    uint32_t inverted;
} elb_feedback;

/// What is written down of a joint. Begin with elb_joint_config_init.
///
/// Every pair is lower then upper. Fields are only ever appended to this struct, never to those in it.
typedef struct elb_joint_config {
    /// Bytes of this struct as the caller knows it; set by elb_joint_config_init.
    size_t size;
    /// Lower and upper command, in the joint's own unit.
    double command[2];
    /// The drive angles that the command range is mapped to, deg.
    double drive[2];
    /// The drive angles that the joint may use, deg. Both 0, the default: the same as `drive`.
    double travel[2];
    /// The command taken when no other is given.
    double rest;
    /// The fastest the command may change, command units per second. 0, the default: not given.
    double max_rate_per_s;
    /// 1 if the lower command belongs to the upper drive angle, else 0, the default.
    uint32_t inverted;
    /// Always 0.
    uint32_t reserved;
    /// The servo.
    struct elb_servo servo;
    /// The timer of its pulses.
    struct elb_timer timer;
    /// From command to drive angle.
    struct elb_transmission transmission;
    /// The sensor on the joint.
    struct elb_feedback feedback;
} elb_joint_config;

/// All that is known about a refusal. The caller owns it; frozen at 512 bytes.
///
/// A call writes it only when it fails. A `line` and a `column` that do not apply are 0, `index` is then ELB_NO_INDEX.
typedef struct elb_error {
    /// The status that the call also returned.
    elb_status status;
    /// Line of the robot file at fault, counted from 1.
    uint32_t line;
    /// Column of the robot file at fault, in characters, counted from 1.
    uint32_t column;
    /// Always 0.
    uint32_t reserved;
    /// Index of the array element at fault, counted from 0.
    uint64_t index;
    /// The value at fault, of two the first: a number given, or how many were; NaN where there is none.
    double value;
    /// One line that says what is wrong, with its value and place, and what would be right. UTF-8, always ends with a
    /// NUL; a message that is too long is cut between two characters.
    char message[ELB_MESSAGE_ROOM];
} elb_error;

/// A converted value and what limited it. Frozen at 16 bytes.
typedef struct elb_conversion {
    /// The result, in the unit that the call names.
    double value;
    /// ELB_CLAMPED_TO_COMMAND, ELB_CLAMPED_TO_TRAVEL, both or none.
    uint32_t flags;
    /// Always 0.
    uint32_t reserved;
} elb_conversion;

/// How many commands of an array are held back. Frozen at 16 bytes.
typedef struct elb_tally {
    /// Commands outside the command range.
    uint64_t clamped_to_command;
    /// Commands whose drive angle is outside the travel.
    uint64_t clamped_to_travel;
} elb_tally;

/// Readings of one joint: what the servo was told and what the joint did. Begin with elb_readings_init.
///
/// Every array has `n` elements; one element of each is one reading, in any order, repeats welcome. The arrays are read
/// during the call and not kept. Fields are only ever appended.
typedef struct elb_readings {
    /// Bytes of this struct as the caller knows it; set by elb_readings_init.
    size_t size;
    /// How many readings.
    size_t n;
    /// The drive angles commanded, deg (or pulse widths: then every result along the drive is in that unit).
    const double *drive;
    /// The values measured at rest, in any unit; in that of the joint's commands where elb_robot_with_fit shall take the fit.
    const double *measured;
    /// From which side each position was reached: ELB_APPROACH_... Nullable.
    const int8_t *approach;
    /// Contact noted by hand: ELB_CONTACT_... Nullable.
    const uint8_t *contact;
    /// Standard uncertainty of each measured value, in its unit. Nullable: all alike, found from the scatter.
    const double *u;
    /// When each reading was taken, s, counted from any moment. Nullable: nothing is known of it. It shows which readings
    /// were taken while the drive moved, and from which side each position was reached where `approach` is NULL.
    const double *time;
} elb_readings;

/// The options of a fit. Begin with elb_fit_options_init. Fields are only ever appended.
typedef struct elb_fit_options {
    /// Bytes of this struct as the caller knows it; set by elb_fit_options_init.
    size_t size;
    /// Margin kept between contact and travel, in drive angle; 0 or more. Default 2.
    double guard;
    /// Coverage probability of every interval, 0.5 to 0.9999. Default 0.95.
    double confidence;
    /// Smallest step that the measured value can show (ADC step, graduation), in its unit. 0, the default: not known.
    double resolution;
} elb_fit_options;

/// The line between the stops. Frozen at 80 bytes.
///
/// `measured = intercept + slope * drive`.
typedef struct elb_fit_line {
    /// Measured per drive angle.
    double slope;
    /// Its standard uncertainty.
    double u_slope;
    /// Measured value at drive 0.
    double intercept;
    /// Its standard uncertainty.
    double u_intercept;
    /// Covariance of slope and intercept.
    double covariance;
    /// Standard deviation of the retained readings about the model, in measured units.
    double residual_sd;
    /// Share of the retained readings' variance that the model explains, 0 to 1.
    double r_squared;
    /// Probability that the sign of the slope is right.
    double certainty;
    /// Degrees of freedom.
    uint64_t dof;
    /// +1 if measured rises with the drive angle, -1 if it falls.
    int32_t trend;
    /// Always 0.
    uint32_t reserved;
} elb_fit_line;

/// One end of the drive angles, with its evidence. Frozen at 88 bytes.
typedef struct elb_fit_end {
    /// The drive angle of contact, or of the furthest clear reading; when stalled, of the last reading that follows the line.
    double at;
    /// When stalled, the drive angle of the first reading that fell short of the line; else NaN.
    double short_at;
    /// Standard uncertainty of a contact's `at`; else NaN.
    double u;
    /// Coverage interval of the contact, lower then upper; NaN for every other kind.
    double interval[2];
    /// The guard that went into `travel`; 0 when only clear, or where one reading alone shows that the joint stalled.
    double guard;
    /// The recommended end of the travel.
    double travel;
    /// The measured value on the stop; NaN where it is not known.
    double level;
    /// Its standard uncertainty; NaN with it.
    double u_level;
    /// Retained readings at or beyond the contact; when stalled, those that fell short.
    uint64_t readings_beyond;
    /// ELB_END_CONTACT, ELB_END_STALLED or ELB_END_CLEAR.
    uint32_t kind;
    /// 1 if contact was noted by hand, else 0.
    uint32_t marked;
} elb_fit_end;

/// The difference between positions reached from below and from above. Frozen at 40 bytes.
typedef struct elb_lost_motion {
    /// Its size, in measured units; 0 or more.
    double value;
    /// Standard uncertainty of `value` and of `reversal`.
    double u;
    /// With its sign: mean reached from below less mean from above (the reversal value of ISO 230-2).
    double reversal;
    /// Its size in drive angle.
    double drive;
    /// Standard uncertainty of `drive`.
    double u_drive;
} elb_lost_motion;

/// A reading that was left out. Frozen at 40 bytes.
typedef struct elb_rejected {
    /// Where it stands among the readings, counted from 0.
    uint64_t index;
    /// Its drive angle.
    double drive;
    /// Its measured value.
    double measured;
    /// Measured less expected.
    double residual;
    /// ELB_REJECT_...
    uint32_t reason;
    /// The slip that would explain the value: ELB_SLIP_...
    uint32_t cause;
} elb_rejected;

/// Which readings to take next: the few that sharpen most what is weakest. Frozen at 32 bytes.
typedef struct elb_advice {
    /// Standard uncertainty of the stop's place now, in drive angle; NaN where no stop was found.
    double u_before;
    /// The same to be expected with these readings; NaN where it cannot be foretold.
    double u_after;
    /// How many readings; elb_fit_next_reading has each.
    uint64_t readings;
    /// The end that they are for: ELB_SIDE_LOWER or ELB_SIDE_UPPER.
    uint32_t side;
    /// Always 0.
    uint32_t reserved;
} elb_advice;

/// A reading to take. Frozen at 16 bytes.
typedef struct elb_next_reading {
    /// Its drive angle.
    double drive;
    /// The side from which to reach it: ELB_APPROACH_...
    int32_t approach;
    /// Always 0.
    uint32_t reserved;
} elb_next_reading;

/// What a robot file holds about a joint besides its numbers. Texts live as long as the robot. Frozen.
typedef struct elb_robot_entry {
    /// Its name.
    const char *name;
    /// The board that makes its pulses; NULL if the file does not name it.
    const char *board;
    /// The unit of its commands; NULL if the file does not name it.
    const char *unit;
    /// The joint on the other side that it mirrors; NULL if none.
    const char *mirror_of;
    /// The board's output that it is wired to, or ELB_NO_CHANNEL.
    uint32_t channel;
    /// The line of the file where it begins, counted from 1.
    uint32_t line;
} elb_robot_entry;

/// The unit of a joint's commands and its factor to SI. Frozen at 16 bytes.
typedef struct elb_unit {
    /// What one of it is in radians, metres or plain numbers, as `si` says; NaN where `code` is ELB_UNIT_NONE or ELB_UNIT_OTHER.
    double to_si;
    /// ELB_UNIT_...
    uint32_t code;
    /// ELB_SI_...
    uint32_t si;
} elb_unit;

/// Something wrong with a robot. Texts live as long as the findings. Frozen.
typedef struct elb_finding {
    /// The name of the rule that found it: "rest-outside-travel".
    const char *rule;
    /// The joint concerned; NULL for the robot as a whole.
    const char *joint;
    /// What is wrong, with its values.
    const char *message;
    /// What to do about it.
    const char *hint;
    /// The reason for which the robot file waives it; NULL if it does not.
    const char *waiver;
    /// ELB_SEVERITY_...
    uint32_t severity;
    /// The line of the robot file where the joint begins, counted from 1; 0 for the robot as a whole.
    uint32_t line;
} elb_finding;

/// What became of one joint's limits. Texts live as long as the description. Frozen.
typedef struct elb_description_joint {
    /// The joint's name.
    const char *joint;
    /// Why its limits were not written; NULL if they were.
    const char *left_out;
    /// The lower limit as it was written, in `unit`; NaN if it was not.
    double lower;
    /// The upper limit.
    double upper;
    /// ELB_UNIT_RAD, ELB_UNIT_DEG or ELB_UNIT_M; 0 if nothing was written.
    uint32_t unit;
    /// Always 0.
    uint32_t reserved;
} elb_description_joint;

/// What a check finds at one tick.
typedef struct elb_following {
    /// Where the joint was measured, in the unit of its commands; NaN at a fault of the sensor.
    double measured;
    /// How far that is beyond what was expected, tolerance included: above 0 beyond the upper bound, below 0 beyond the lower one,
    /// 0 between them and at a fault of the sensor.
    double beyond;
    /// One of ELB_FOLLOW_...; later versions may add more.
    uint32_t state;
    /// With ELB_FOLLOW_SENSOR_FAULT what the reading shows: one of ELB_READING_...; else 0.
    uint32_t fault;
} elb_following;

/// What a bring-up starts from: deg of drive angle unless said otherwise. Begins with its size; set it with
/// elb_session_config_init. Fields are only ever added at its end.
typedef struct elb_session_config {
    /// sizeof(elb_session_config), set by elb_session_config_init.
    size_t size;
    /// The drive angle at which the joint stands, clear on both sides. No default.
    double start;
    /// How far it is clear on both sides of it. Default: 6.
    double clearance;
    /// Angles that are never passed, lower then upper: the servo's own range or less. Default: 0 to 180.
    double search_limits[2];
    /// The longest way a probe may go beyond what is clear. Default: 2.5.
    double step;
    /// How finely a stop is bracketed. Default: 0.5.
    double tolerance;
    /// How far before a place it is approached from; more than the lost motion. Default: 5.
    double run_in;
    /// Way between two places of the sweep. Default: 1.5.
    double sweep_step;
    /// Margin between contact and travel. Default: 2.
    double guard;
    /// Coverage probability of the intervals. Default: 0.95.
    double confidence;
    /// One step of the reading, in readings. Default: 1.
    double resolution;
    /// The lowest and the highest reading there is. Default: 0 to 1023.
    double reading_range[2];
    /// The servo's speed by its data sheet, deg/s. Default: 300.
    double rated_speed;
    /// 1 if the reading should rise with the drive angle, 0 if it should fall. Default: 1.
    uint32_t rising;
    /// 1 if the servo's own loop runs over the sensor that is read, so that its sense is tested; 0 if the servo closes its
    /// loop by itself. Default: 1.
    uint32_t closes_loop;
    /// Joint angle at the lower and at the upper stop, deg, as measured or drawn: for the alignment, which is made if
    /// `alignment_sensor_travel` is given.
    double alignment_joint[2];
    /// Electrical travel of the sensor, deg of its own shaft. 0, the default: the alignment is left out.
    double alignment_sensor_travel;
    /// Degrees of the sensor's shaft for each degree of the joint; negative where a gear reverses it. 0, the default: 1.
    double alignment_ratio;
    /// The readings at the two ends of the sensor's travel, lower then upper. Both 0, the default: those of `reading_range`.
    double alignment_reading_range[2];
    /// How much must be spare beyond each stop, deg of the joint. Default: 2.
    double alignment_margin;
    /// What is known from before, to tell what has changed since: a sum of ELB_BASELINE_...; 0, the default: nothing.
    /// elb_session_config_set_baseline sets it and what follows.
    uint32_t baseline;
    /// Always 0.
    uint32_t reserved;
    /// Where the joint met its stops, lower then upper.
    double baseline_contacts[2];
    /// Some drive angle between them.
    double baseline_at;
    /// The reading there.
    double baseline_reading;
    /// Readings per degree of drive angle there, with sign.
    double baseline_per_deg;
} elb_session_config;

/// What to do next. Angles, rates, times and amounts that do not belong to the kind are NaN. Frozen at 48 bytes.
typedef struct elb_action {
    /// Where to move, drive angle in deg.
    double drive;
    /// The fastest that the command may change, deg/s.
    double max_rate_per_s;
    /// How long to wait, s.
    double seconds;
    /// The number of a question, in the unit that its ELB_QUESTION_... names.
    double amount;
    /// One of ELB_ACTION_....
    uint32_t kind;
    /// Of a question: one of ELB_QUESTION_...; else 0.
    uint32_t question;
    /// The end that a question is about: ELB_SIDE_...
    uint32_t toward;
    /// The answers that a question has: a sum of ELB_ANSWER_.... Of a reading that a person types: ELB_ANSWER_AGAIN.
    uint32_t answers;
} elb_action;

/// What was done. Frozen at 24 bytes.
typedef struct elb_report {
    /// The reading, in the sensor's own unit; or the angle of ELB_ANSWER_ANGLE or of ELB_REPORT_MOVED_TO, deg.
    double value;
    /// With a reading: the drive's current as a part of its stall current; NaN where nothing measures it.
    double load;
    /// The kind of the action that was done, or ELB_REPORT_MOVED_TO.
    uint32_t kind;
    /// The answer to a question.
    uint32_t answer;
} elb_report;

/// How a bring-up ended, lower then upper, deg of drive angle. NaN where a verdict left nothing. Frozen at 96 bytes.
typedef struct elb_outcome {
    /// The travel, if the joint is ready.
    double travel[2];
    /// Where contact is, or the furthest that was clear; when stalled, the last reading that follows the line.
    double at[2];
    /// When stalled, the first reading that fell short of the line; else NaN.
    double short_at[2];
    /// Standard uncertainty of a contact.
    double u[2];
    /// The margin kept.
    double guard;
    /// Readings that the travel rests on.
    uint64_t readings;
    /// One of ELB_OUTCOME_....
    uint32_t verdict;
    /// ELB_END_..., of the lower and of the upper end.
    uint32_t kind[2];
    /// Always 0.
    uint32_t reserved;
} elb_outcome;

/// What a bring-up with typed readings starts from: deg of drive angle unless said otherwise. Begins with its size; set it with
/// elb_bench_config_init. Fields are only ever added at its end.
typedef struct elb_bench_config {
    /// sizeof(elb_bench_config), set by elb_bench_config_init.
    size_t size;
    /// The drive angle at which the joint stands, clear on both sides. No default.
    double start;
    /// How far it is clear on both sides of it. Default: 6.
    double clearance;
    /// Angles that are never passed, lower then upper: the servo's own range or less. Default: 0 to 180.
    double search_limits[2];
    /// How far a command may lie beyond a stop as met in the direction driven. 0, the default: 5, and 8 where the stops are felt
    /// first, as nothing is pressed then unless something came in the way since.
    double overtravel;
    /// How far before a place it is approached from; more than the lost motion. Default: 9.
    double run_in;
    /// Margin between contact and travel. Default: 2.
    double guard;
    /// Coverage probability of the intervals. Default: 0.95.
    double confidence;
    /// How far a turn of the hand goes in the sense test. Default: 20.
    double turn;
    /// One graduation of the scale that is read, in readings. Default: 1.
    double resolution;
    /// Standard uncertainty of one typed reading, its graduation included, in readings. 0, the default: about half a graduation.
    double u_reading;
    /// The standard uncertainty wanted of both stops and of the lost motion. Default: 0.5.
    double tolerance;
    /// By how much the slope may change over 100 deg, as a part of itself (one standard deviation). Default: 0.1.
    double bend;
    /// The fastest that the command may change, deg/s. Default: 20.
    double max_rate_per_s;
    /// How long to wait until the joint is at rest, s. Default: 1.
    double settle_s;
    /// How many readings are typed at the most while the result is refined; the search of the stops may need more. Default: 60.
    uint32_t most_readings;
    /// 1 if the servo's own loop runs over the sensor on the joint, so that its sense is tested; 0 if the servo closes its loop by
    /// itself. Default: 0.
    uint32_t closes_loop;
    /// 1 if both stops are felt by hand first, with the drive detached. Default: 0.
    uint32_t feel_stops;
    /// Always 0.
    uint32_t reserved;
} elb_bench_config;

#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

/// The version of the library that runs, which may be newer than the header: "0.1.0".
///
/// Returns a static text, not to be freed.
const char *elb_version(void) ELB_NOEXCEPT;

/// The version of the library that runs, to be compared with ELB_VERSION_NUMBER.
uint32_t elb_version_number(void) ELB_NOEXCEPT;

/// The name of a status, as Python and the shell show it: "not-finite".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives the text of
/// ELB_STATUS_OTHER.
const char *elb_status_name(int32_t status)
ELB_NOEXCEPT;

/// The sentence of a status: "A value is NaN or infinite where a number is needed."
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives the text of
/// ELB_STATUS_OTHER. Calls with an `error` parameter write a better message there, with the values at fault.
const char *elb_status_text(int32_t status)
ELB_NOEXCEPT;

/// @name Joints
/// @{

/// Sets a joint's struct to its defaults and notes its size.
///
/// - config: the struct. Written only on success.
/// - size: `sizeof(elb_joint_config)`, as the caller's header has it.
ELB_MUST_USE elb_status elb_joint_config_init(struct elb_joint_config *config, size_t size) ELB_NOEXCEPT;

/// Checks a joint and makes it.
///
/// - config: what is written down of the joint; not needed after the call.
/// - out: receives the joint; free it with elb_joint_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: all that can be wrong with a joint is said here; afterwards only the number given can be.
ELB_MUST_USE
elb_status elb_joint_new(const struct elb_joint_config *config,
                         struct elb_joint **out,
                         struct elb_error *error)
ELB_NOEXCEPT;

/// Frees a joint made by elb_joint_new or elb_joint_clone.
///
/// A joint must be freed once, and never while another thread uses it; freeing it twice is undefined, as with `free`.
/// Joints that belong to a robot are freed with the robot.
///
/// Nullable: joint (nothing happens).
void elb_joint_free(struct elb_joint *joint)
ELB_NOEXCEPT;

/// Makes a joint that the program owns from any joint, e.g. to keep one of a robot beyond the robot.
///
/// - joint: the joint to copy.
/// - out: receives the new joint; free it with elb_joint_free.
ELB_MUST_USE elb_status elb_joint_clone(const struct elb_joint *joint, struct elb_joint **out) ELB_NOEXCEPT;

/// Reads back what a joint was made of; `travel` is filled in where it was left out.
///
/// The knots do not come along: those of `transmission` and `feedback` are NULL, `n_knots` how many there are.
/// elb_joint_knots and elb_joint_feedback_knots copy them; point to the copies before the config makes another joint.
///
/// - out: the struct.
/// - size: `sizeof(elb_joint_config)`, as the caller's header has it.
ELB_MUST_USE
elb_status elb_joint_config_of(const struct elb_joint *joint,
                               struct elb_joint_config *out,
                               size_t size)
ELB_NOEXCEPT;

/// Copies the knots of a joint's transmission: command and drive angle, deg, of each; none unless it is a curve.
///
/// - knots: receives them, (n x 2).
/// - room: how many knots (pairs) there is room for.
/// - n: receives how many there are, also when the room is too small.
///
/// Nullable: knots if room is 0, to ask for the number alone; n. Errors: ELB_STATUS_NO_ROOM.
ELB_MUST_USE
elb_status elb_joint_knots(const struct elb_joint *joint,
                           double *knots,
                           size_t room,
                           size_t *n)
ELB_NOEXCEPT;

/// Copies the knots of a joint's feedback: reading and joint angle, deg, of each; none if it is straight or there is no
/// feedback. Otherwise as elb_joint_knots.
///
/// Nullable: knots if room is 0, to ask for the number alone; n.
ELB_MUST_USE
elb_status elb_joint_feedback_knots(const struct elb_joint *joint,
                                    double *knots,
                                    size_t room,
                                    size_t *n)
ELB_NOEXCEPT;

/// The lowest and the highest timer count that a joint ever gives.
///
/// - lowest, highest: receive the counts.
ELB_MUST_USE
elb_status elb_joint_count_range(const struct elb_joint *joint,
                                 uint32_t *lowest,
                                 uint32_t *highest)
ELB_NOEXCEPT;

/// @}

/// @name One value towards the motor
///
/// These never allocate and take a bounded number of steps: fit for a control loop. A command outside its range is clamped
/// and flagged; NaN and infinities are refused, since they must not reach the motor.
/// @{

/// The drive angle, deg, of a command.
///
/// - command: in the joint's own unit.
/// - out: receives the angle and what held it back.
///
/// Errors: ELB_STATUS_NOT_FINITE.
ELB_MUST_USE
elb_status elb_joint_drive(const struct elb_joint *joint,
                           double command,
                           struct elb_conversion *out)
ELB_NOEXCEPT;

/// The pulse width, microseconds, of a command.
///
/// - command: in the joint's own unit.
/// - out: receives the pulse width and what held it back.
///
/// Errors: ELB_STATUS_NOT_FINITE.
ELB_MUST_USE
elb_status elb_joint_pulse_us(const struct elb_joint *joint,
                              double command,
                              struct elb_conversion *out)
ELB_NOEXCEPT;

/// The timer count of a command. Its own drive angle always lies inside the travel.
///
/// - command: in the joint's own unit.
/// - out: receives the count, a whole number up to 4294967295, and what held it back.
///
/// Errors: ELB_STATUS_NOT_FINITE.
ELB_MUST_USE
elb_status elb_joint_counts(const struct elb_joint *joint,
                            double command,
                            struct elb_conversion *out)
ELB_NOEXCEPT;

/// The timer count for a drive angle, and the drive angle that this count really commands: what a bring-up moves by. The travel is not
/// applied, since a bring-up has to go beyond it; outside the servo's own angle range the drive angle is clamped.
///
/// - drive: deg.
/// - out: receives the count, and ELB_CLAMPED_TO_TRAVEL where the servo's angle range held it back.
/// - commanded: receives the drive angle of that count, deg, for ELB_REPORT_MOVED_TO.
///
/// Errors: ELB_STATUS_NOT_FINITE.
ELB_MUST_USE
elb_status elb_joint_counts_from_drive(const struct elb_joint *joint,
                                       double drive,
                                       struct elb_conversion *out,
                                       double *commanded)
ELB_NOEXCEPT;

/// The commands up to which the transmission can go: the dead centres of a mechanism, the ends of a curve, infinite where
/// there is none. The command range lies within; the rest is how much room is left.
///
/// - lower, upper: receive the commands, in the joint's own unit.
ELB_MUST_USE
elb_status elb_joint_valid_range(const struct elb_joint *joint,
                                 double *lower,
                                 double *upper)
ELB_NOEXCEPT;

/// Degrees of drive angle per unit of command, at a command: the speed ratio, and what one step is worth.
///
/// Below 0 for an inverted joint. Beyond the ends, that of the straight continuation; for a straight line the same everywhere.
///
/// - command: in the joint's own unit. NaN gives NaN.
/// - out: receives the derivative.
ELB_MUST_USE
elb_status elb_joint_drive_per_command(const struct elb_joint *joint,
                                       double command,
                                       double *out)
ELB_NOEXCEPT;

/// @}

/// @name One value back from the motor
///
/// Nothing is clamped here, since a measured position outside the travel is information, and NaN gives NaN, since a gap in a
/// log is a gap.
/// @{

/// The command of a drive angle.
///
/// - drive: deg.
/// - out: receives the command, in the joint's own unit.
ELB_MUST_USE
elb_status elb_joint_command_from_drive(const struct elb_joint *joint,
                                        double drive,
                                        double *out)
ELB_NOEXCEPT;

/// The command of a pulse width.
///
/// - pulse_us: microseconds.
/// - out: receives the command, in the joint's own unit.
ELB_MUST_USE
elb_status elb_joint_command_from_pulse_us(const struct elb_joint *joint,
                                           double pulse_us,
                                           double *out)
ELB_NOEXCEPT;

/// The command of a timer count.
///
/// - counts: any number, also one that this joint never gives.
/// - out: receives the command, in the joint's own unit.
ELB_MUST_USE
elb_status elb_joint_command_from_counts(const struct elb_joint *joint,
                                         uint32_t counts,
                                         double *out)
ELB_NOEXCEPT;

/// The name of what held a command back, from the flags of a conversion: "not-clamped", "clamped-to-command",
/// "clamped-to-travel", "clamped-to-both".
///
/// Returns a static text, never NULL, not to be freed. Flags that this library does not know are left out.
const char *elb_clamped_name(uint32_t flags) ELB_NOEXCEPT;

/// @}

/// @name Arrays towards the motor
///
/// Each call takes `n` commands and writes `n` results, the same bits as the single calls give. Arrays must be aligned
/// as their types need (else ELB_STATUS_MISALIGNED). Input and output may be the same array where the output's elements
/// are not the larger ones; arrays that otherwise overlap are refused with ELB_STATUS_OVERLAP. `n` = 0 is fine, also
/// with NULL.
///
/// The first NaN or infinity stops the call with ELB_STATUS_NOT_FINITE: `done` is its index, all before it is written,
/// it and the rest of the output are untouched. On success `done` is `n`; on any other error nothing is written.
/// @{

/// Timer counts, 16 bits, of commands.
///
/// - command: `n` commands, in the joint's own unit.
/// - out: receives `n` counts.
/// - done: receives how many were written.
///
/// Nullable: done; command and out if n is 0. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_COUNT_TOO_WIDE (this joint's
/// counts need 32 bits), ELB_STATUS_OVERLAP.
ELB_MUST_USE
elb_status elb_joint_counts_batch(const struct elb_joint *joint,
                                  const double *command,
                                  size_t n,
                                  uint16_t *out,
                                  size_t *done)
ELB_NOEXCEPT;

/// Timer counts, 32 bits, of commands. Otherwise as elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_counts_batch_u32(const struct elb_joint *joint,
                                      const double *command,
                                      size_t n,
                                      uint32_t *out,
                                      size_t *done)
ELB_NOEXCEPT;

/// Timer counts, 16 bits, of commands in single precision, each widened to double, exactly. Otherwise as
/// elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_counts_batch_f32(const struct elb_joint *joint,
                                      const float *command,
                                      size_t n,
                                      uint16_t *out,
                                      size_t *done)
ELB_NOEXCEPT;

/// Timer counts, 32 bits, of commands in single precision, each widened to double, exactly. Otherwise as
/// elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_counts_batch_f32_u32(const struct elb_joint *joint,
                                          const float *command,
                                          size_t n,
                                          uint32_t *out,
                                          size_t *done)
ELB_NOEXCEPT;

/// Drive angles, deg, of commands. Otherwise as elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_drive_batch(const struct elb_joint *joint,
                                 const double *command,
                                 size_t n,
                                 double *out,
                                 size_t *done)
ELB_NOEXCEPT;

/// Drive angles, deg, of commands in single precision, each widened to double, exactly. Otherwise as
/// elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_drive_batch_f32(const struct elb_joint *joint,
                                     const float *command,
                                     size_t n,
                                     double *out,
                                     size_t *done)
ELB_NOEXCEPT;

/// Pulse widths, microseconds, of commands. Otherwise as elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_pulse_us_batch(const struct elb_joint *joint,
                                    const double *command,
                                    size_t n,
                                    double *out,
                                    size_t *done)
ELB_NOEXCEPT;

/// Pulse widths, microseconds, of commands in single precision, each widened to double, exactly. Otherwise as
/// elb_joint_counts_batch.
///
/// Nullable: done; command and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_pulse_us_batch_f32(const struct elb_joint *joint,
                                        const float *command,
                                        size_t n,
                                        double *out,
                                        size_t *done)
ELB_NOEXCEPT;

/// How many of these commands are held back by the command range and by the travel.
///
/// - command: `n` commands, in the joint's own unit.
/// - out: receives the numbers.
///
/// Nullable: command if n is 0. Errors: ELB_STATUS_NOT_FINITE.
ELB_MUST_USE
elb_status elb_joint_tally(const struct elb_joint *joint,
                           const double *command,
                           size_t n,
                           struct elb_tally *out)
ELB_NOEXCEPT;

/// @}

/// @name Arrays back from the motor
///
/// Arrays as above; nothing is clamped and nothing refused: NaN gives NaN.
/// @{

/// Commands of drive angles in deg.
///
/// - drive: `n` angles.
/// - out: receives `n` commands, in the joint's own unit.
///
/// Nullable: drive and out if n is 0. Errors: ELB_STATUS_OVERLAP.
ELB_MUST_USE
elb_status elb_joint_command_from_drive_batch(const struct elb_joint *joint,
                                              const double *drive,
                                              size_t n,
                                              double *out)
ELB_NOEXCEPT;

/// Commands of pulse widths in microseconds. Otherwise as elb_joint_command_from_drive_batch.
///
/// Nullable: pulse_us and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_command_from_pulse_us_batch(const struct elb_joint *joint,
                                                 const double *pulse_us,
                                                 size_t n,
                                                 double *out)
ELB_NOEXCEPT;

/// Commands of timer counts in 16 bits. Otherwise as elb_joint_command_from_drive_batch.
///
/// Nullable: counts and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_command_from_counts_batch(const struct elb_joint *joint,
                                               const uint16_t *counts,
                                               size_t n,
                                               double *out)
ELB_NOEXCEPT;

/// Commands of timer counts in 32 bits. Otherwise as elb_joint_command_from_drive_batch.
///
/// Nullable: counts and out if n is 0.
ELB_MUST_USE
elb_status elb_joint_command_from_counts_batch_u32(const struct elb_joint *joint,
                                                   const uint32_t *counts,
                                                   size_t n,
                                                   double *out)
ELB_NOEXCEPT;

/// @}

/// @name The joint's sensor
///
/// Nothing is clamped, and NaN gives NaN.
/// @{

/// Whether a joint has a feedback map; without one the other calls here return ELB_STATUS_NO_FEEDBACK.
///
/// - out: receives 1 if it has, else 0.
ELB_MUST_USE elb_status elb_joint_has_feedback(const struct elb_joint *joint, uint32_t *out) ELB_NOEXCEPT;

/// The joint angle, deg, of a feedback reading. A reading at a rail of its converter, as from a broken wire, has an angle as well: ask
/// elb_joint_reading_state first.
///
/// - reading: in the sensor's unit, e.g. ADC counts.
/// - out: receives the angle.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
ELB_MUST_USE
elb_status elb_joint_angle_from_reading(const struct elb_joint *joint,
                                        double reading,
                                        double *out)
ELB_NOEXCEPT;

/// The command at which a reading was taken, if there were no lost motion.
///
/// - reading: in the sensor's unit.
/// - out: receives the command, in the joint's own unit.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
ELB_MUST_USE
elb_status elb_joint_command_from_reading(const struct elb_joint *joint,
                                          double reading,
                                          double *out)
ELB_NOEXCEPT;

/// The reading to be expected at a command, not rounded.
///
/// - command: in the joint's own unit.
/// - out: receives the reading, in the sensor's unit.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
ELB_MUST_USE
elb_status elb_joint_reading_from_command(const struct elb_joint *joint,
                                          double command,
                                          double *out)
ELB_NOEXCEPT;

/// The reading as it would be at the supply at which the feedback map was taken: give it to the other calls for a sensor that is
/// not ratiometric. A ratiometric one, whose feedback names no supply, has its reading given back.
///
/// - reading: in the sensor's unit.
/// - supply_v: the supply now, V. NaN and 0 give NaN or an infinity.
/// - out: receives the reading.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
ELB_MUST_USE
elb_status elb_joint_reading_at_supply(const struct elb_joint *joint,
                                       double reading,
                                       double supply_v,
                                       double *out)
ELB_NOEXCEPT;

/// The state of the sensor that a reading shows: sound, out of its measured range, or at a rail.
///
/// - reading: in the sensor's unit.
/// - out: receives one of ELB_READING_...; later versions may add more.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
ELB_MUST_USE
elb_status elb_joint_reading_state(const struct elb_joint *joint,
                                   double reading,
                                   uint32_t *out)
ELB_NOEXCEPT;

/// The name of a state of a reading: "inside", "outside", "lower-rail", "upper-rail", "impossible".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
const char *elb_reading_name(uint32_t state)
ELB_NOEXCEPT;

/// What one count of the converter is worth at a reading: degrees of joint angle per unit of reading, negative where the
/// reading falls as the angle rises. Beyond the ends of the feedback map, the slope with which it continues there.
///
/// - reading: in the sensor's unit; NaN gives NaN.
/// - out: receives deg per unit of reading.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
ELB_MUST_USE
elb_status elb_joint_angle_per_reading(const struct elb_joint *joint,
                                       double reading,
                                       double *out)
ELB_NOEXCEPT;

/// Whether a broken or shorted wire can be seen: at the lower and at the upper rail of the converter, the outermost 1/256 of
/// its numbers (an assumption of this library). It can where elb_joint_reading_state tells the rail in all of it, so where the
/// feedback's readings keep clear of it; and it cannot where `feedback.adc_bits` is unknown. A wiper's own broken wire is at
/// a rail only if a resistor pulls the input there (an assumption of this library).
///
/// - lower, upper: receive 1 if it can be seen there, else 0.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
ELB_MUST_USE
elb_status elb_joint_detects_wire_faults(const struct elb_joint *joint,
                                         uint32_t *lower,
                                         uint32_t *upper)
ELB_NOEXCEPT;

/// @}

/// @name Limits from readings
/// @{

/// Sets readings to none, and notes the struct's size.
///
/// - size: `sizeof(elb_readings)`, as the caller's header has it.
ELB_MUST_USE elb_status elb_readings_init(struct elb_readings *readings, size_t size) ELB_NOEXCEPT;

/// Sets options to their defaults, and notes the struct's size.
///
/// - size: `sizeof(elb_fit_options)`, as the caller's header has it.
ELB_MUST_USE elb_status elb_fit_options_init(struct elb_fit_options *options, size_t size) ELB_NOEXCEPT;

/// The name of a kind of end: "none", "clear", "contact", "stalled".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
const char *elb_end_name(uint32_t kind)
ELB_NOEXCEPT;

/// The name of a reason for leaving a reading out: "off-the-line", "off-the-stop", "not-taken-up",
/// "drive-far-off".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
const char *elb_reject_name(uint32_t reason)
ELB_NOEXCEPT;

/// Finds how far a joint can go, with the evidence.
///
/// - readings: what was commanded and measured. NaN and infinities are refused, never skipped.
/// - options: the options of the fit; NULL means the defaults.
/// - out: receives the fit; free it with elb_fit_free.
/// - error: receives the details when the call fails.
///
/// Nullable: options, error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_DRIVE_ANGLES_EQUAL, ELB_STATUS_NO_MOTION, ELB_STATUS_OPTION_OUTSIDE, ELB_STATUS_IN_MOTION,
/// ELB_STATUS_NO_AGREEMENT, ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_fit_limits(const struct elb_readings *readings,
                          const struct elb_fit_options *options,
                          struct elb_fit **out,
                          struct elb_error *error)
ELB_NOEXCEPT;

/// Frees a fit. It must be freed once, and never while another thread uses it.
///
/// Nullable: fit (nothing happens).
void elb_fit_free(struct elb_fit *fit) ELB_NOEXCEPT;

/// The line between the stops.
///
/// - out: receives it.
ELB_MUST_USE elb_status elb_fit_line_of(const struct elb_fit *fit, struct elb_fit_line *out) ELB_NOEXCEPT;

/// One end of the drive angles, with its evidence.
///
/// - side: ELB_SIDE_LOWER or ELB_SIDE_UPPER.
/// - out: receives it.
///
/// Errors: ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_fit_end_of(const struct elb_fit *fit,
                          uint32_t side,
                          struct elb_fit_end *out)
ELB_NOEXCEPT;

/// The recommended travel.
///
/// - lower, upper: receive its ends, in drive angle.
///
/// Errors: ELB_STATUS_ABSENT when guard margin and uncertainty leave no travel.
ELB_MUST_USE elb_status elb_fit_travel(const struct elb_fit *fit, double *lower, double *upper) ELB_NOEXCEPT;

/// Lost motion.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT when it cannot be determined, elb_fit_lost_motion_text says why.
ELB_MUST_USE
elb_status elb_fit_lost_motion(const struct elb_fit *fit,
                               struct elb_lost_motion *out)
ELB_NOEXCEPT;

/// Why lost motion cannot be determined; an empty text if it was.
///
/// - out: receives a text that lives as long as the fit.
ELB_MUST_USE elb_status elb_fit_lost_motion_text(const struct elb_fit *fit, const char **out) ELB_NOEXCEPT;

/// How far repeats of one position scatter.
///
/// - sd: receives the pooled standard deviation, in measured units.
/// - dof: receives its degrees of freedom.
///
/// Errors: ELB_STATUS_ABSENT without repeats.
ELB_MUST_USE
elb_status elb_fit_repeatability(const struct elb_fit *fit,
                                 double *sd,
                                 uint64_t *dof)
ELB_NOEXCEPT;

/// The measured value that a fit expects at a drive angle; beyond a contact it stays at the stop. NaN gives NaN.
///
/// - out: receives the value.
ELB_MUST_USE
elb_status elb_fit_expected(const struct elb_fit *fit,
                            double drive,
                            double *out)
ELB_NOEXCEPT;

/// How many readings were left out.
ELB_MUST_USE elb_status elb_fit_rejected_count(const struct elb_fit *fit, size_t *out) ELB_NOEXCEPT;

/// One of the readings that were left out.
///
/// - i: 0 to elb_fit_rejected_count - 1, else ELB_STATUS_ABSENT.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_fit_rejected(const struct elb_fit *fit,
                            size_t i,
                            struct elb_rejected *out)
ELB_NOEXCEPT;

/// The word of the slip that would explain a rejected value: `sign`, `decimal-place`, `digits-swapped`, `tens`,
/// `neighbouring-row`; later versions may add more.
///
/// - i: 0 to elb_fit_rejected_count - 1.
/// - out: receives a text that lives as long as the fit.
///
/// Errors: ELB_STATUS_ABSENT, also where no slip is known.
ELB_MUST_USE
elb_status elb_fit_rejected_slip(const struct elb_fit *fit,
                                 size_t i,
                                 const char **out)
ELB_NOEXCEPT;

/// The resolution that a fit worked with: the smallest step of the measured values.
///
/// - resolution: receives it, in measured units.
/// - inferred: receives 1 if nobody gave it and the grid of the values shows it, else 0.
///
/// Errors: ELB_STATUS_ABSENT where none was given and the resolution is too fine to matter.
ELB_MUST_USE
elb_status elb_fit_resolution(const struct elb_fit *fit,
                              double *resolution,
                              uint32_t *inferred)
ELB_NOEXCEPT;

/// Whether the sides from which positions were reached were inferred from the order of the readings. That needs a table that goes there
/// and back at rest. The whole fit rests on these sides where lost motion is six of its standard uncertainties or more (up to 20
/// readings: has a probability of 0.9). Else only the lost motion does, and half of it is not taken off the travel: give `approach`.
///
/// - out: receives 1 if nobody wrote them down and the order shows them, else 0.
ELB_MUST_USE
elb_status elb_fit_approach_inferred(const struct elb_fit *fit,
                                     uint32_t *out)
ELB_NOEXCEPT;

/// Which readings to take next, and what they are worth.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where both ends are proven clear.
ELB_MUST_USE elb_status elb_fit_advice(const struct elb_fit *fit, struct elb_advice *out) ELB_NOEXCEPT;

/// One of the readings to take next, in the order in which to take them.
///
/// - i: 0 to `readings` of elb_fit_advice - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_fit_next_reading(const struct elb_fit *fit,
                                size_t i,
                                struct elb_next_reading *out)
ELB_NOEXCEPT;

/// How many warnings a fit carries.
ELB_MUST_USE elb_status elb_fit_warning_count(const struct elb_fit *fit, size_t *out) ELB_NOEXCEPT;

/// The sentence of one warning.
///
/// - i: 0 to elb_fit_warning_count - 1, else ELB_STATUS_ABSENT.
/// - out: receives a text that lives as long as the fit.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE elb_status elb_fit_warning(const struct elb_fit *fit, size_t i, const char **out) ELB_NOEXCEPT;

/// The readings that show the transmission alone: between the stops, without those left out and those beyond an end at which the
/// joint hardly moves. For elb_curve_new, elb_linkage_new and elb_choice_new.
///
/// - readings: the readings that were fitted.
/// - drive, measured: receive those readings; each has room for as many as were fitted.
/// - approach: receives from which side each was reached, ELB_APPROACH_...; unknown where `readings` do not hold it.
/// - n: receives how many they are.
/// - error: receives the details when the call fails.
///
/// Nullable: approach, error. Errors: ELB_STATUS_LENGTH_MISMATCH for other readings than were fitted,
/// ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_fit_between_stops(const struct elb_fit *fit,
                                 const struct elb_readings *readings,
                                 double *drive,
                                 double *measured,
                                 int8_t *approach,
                                 size_t *n,
                                 struct elb_error *error)
ELB_NOEXCEPT;

/// @}

/// @name Many joints at once
/// @{

/// Fits many joints: results in the order given; one failure does not affect the others.
///
/// - readings: `n` pointers, one to the readings of each joint.
/// - options: the options of every fit; NULL means the defaults.
/// - fits: `n` places, each receives a fit to be freed with elb_fit_free, or NULL where that joint failed.
/// - statuses: `n` places, each receives what elb_fit_limits would return for that joint.
/// - errors: `n` places, each receives the details where that joint failed; the others stay untouched.
/// - error: receives the details when the call as a whole fails; then no place is touched.
///
/// Returns ELB_STATUS_OK also when joints failed: their statuses say so.
///
/// Nullable: options, errors, error; an array without elements.
ELB_MUST_USE
elb_status elb_fit_many(const struct elb_readings *const *readings,
                        size_t n,
                        const struct elb_fit_options *options,
                        struct elb_fit **fits,
                        elb_status *statuses,
                        struct elb_error *errors,
                        struct elb_error *error)
ELB_NOEXCEPT;

/// @}

/// @name Robot files
///
/// Many joints in one text that people edit (TOML). Reading it refuses what is not TOML, a key or word that is not known, and
/// every joint that elb_joint_new would refuse. Two joints on one channel, a rest outside the travel, a travel beyond a stop
/// and all else that contradicts the rest of the file or its evidence is read, and found by elb_robot_check.
/// @{

/// Reads the text of a robot file.
///
/// - text: UTF-8, `length` bytes; need not end with a NUL.
/// - out: receives the robot; free it with elb_robot_free.
/// - error: receives the details when the call fails, with line and column.
///
/// Nullable: text if length is 0; error. Errors: ELB_STATUS_NOT_UTF8, the statuses of robot files (50 to 79), those of
/// a joint's numbers (10 to 29).
ELB_MUST_USE
elb_status elb_robot_parse(const char *text,
                           size_t length,
                           struct elb_robot **out,
                           struct elb_error *error)
ELB_NOEXCEPT;

/// Reads a robot file from disk.
///
/// - path: its name, UTF-8, ends with a NUL.
/// - out: receives the robot; free it with elb_robot_free.
/// - error: receives the details when the call fails, with file, line and column.
///
/// Nullable: error. Errors: as elb_robot_parse, and ELB_STATUS_FILE_ACCESS.
ELB_MUST_USE
elb_status elb_robot_load(const char *path,
                          struct elb_robot **out,
                          struct elb_error *error)
ELB_NOEXCEPT;

/// Writes a robot to disk, so that at every moment the file is the old one or the new one, whole, and so that nothing is lost
/// that others wrote since this robot was loaded from there: other joints of theirs are kept in the file; a change of the same joint
/// is refused. A robot that was not loaded from this path replaces what stands there. The file keeps its line ends, owner and
/// permissions. A lock, .NAME.lock beside the file, is held meanwhile.
///
/// - path: the file's name, UTF-8, ends with a NUL.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors, after which the file is untouched: ELB_STATUS_FILE_CHANGED, with what was changed;
/// ELB_STATUS_FILE_ACCESS, also if another process holds the lock for ten seconds; ELB_STATUS_NOT_UTF8.
ELB_MUST_USE
elb_status elb_robot_save(const struct elb_robot *robot,
                          const char *path,
                          struct elb_error *error)
ELB_NOEXCEPT;

/// Frees a robot and the joints and texts that belong to it. It must be freed once, and never while it is in use.
///
/// Nullable: robot (nothing happens).
void elb_robot_free(struct elb_robot *robot)
ELB_NOEXCEPT;

/// The robot's name.
///
/// - out: receives a text that lives as long as the robot.
///
/// Errors: ELB_STATUS_ABSENT if the file gives none.
ELB_MUST_USE elb_status elb_robot_name(const struct elb_robot *robot, const char **out) ELB_NOEXCEPT;

/// The text of the robot file, with every comment where it was.
///
/// - out: receives a text that lives as long as the robot.
ELB_MUST_USE elb_status elb_robot_text(const struct elb_robot *robot, const char **out) ELB_NOEXCEPT;

/// How many joints a robot has.
ELB_MUST_USE elb_status elb_robot_joint_count(const struct elb_robot *robot, size_t *out) ELB_NOEXCEPT;

/// The joint of a name. elb_robot_find gives its place, and the nearest name where there is none such.
///
/// - name: UTF-8, ends with a NUL.
/// - out: receives the joint, which lives as long as the robot.
///
/// Errors: ELB_STATUS_UNKNOWN_JOINT, ELB_STATUS_NOT_UTF8.
ELB_MUST_USE
elb_status elb_robot_joint(const struct elb_robot *robot,
                           const char *name,
                           const struct elb_joint **out)
ELB_NOEXCEPT;

/// One joint of a robot, in file order.
///
/// - i: 0 to elb_robot_joint_count - 1.
/// - out: receives the joint, which lives as long as the robot.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_robot_joint_at(const struct elb_robot *robot,
                              size_t i,
                              const struct elb_joint **out)
ELB_NOEXCEPT;

/// What the file holds about one joint besides its numbers: name, board, channel, unit.
///
/// - i: 0 to elb_robot_joint_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_robot_entry_at(const struct elb_robot *robot,
                              size_t i,
                              struct elb_robot_entry *out)
ELB_NOEXCEPT;

/// Makes a robot in which one joint has other numbers, or which has one joint more; comments and order stay.
///
/// - robot: the robot to begin with; it stays as it is.
/// - name: the joint's name, UTF-8, ends with a NUL. A name that is not there yet is added.
/// - config: the joint's numbers.
/// - out: receives the new robot; free it with elb_robot_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: as elb_robot_parse and elb_joint_new.
ELB_MUST_USE
elb_status elb_robot_with_joint(const struct elb_robot *robot,
                                const char *name,
                                const struct elb_joint_config *config,
                                struct elb_robot **out,
                                struct elb_error *error)
ELB_NOEXCEPT;

/// Makes a robot in which one joint has travel and evidence of a fit; its other numbers, comments and order stay.
///
/// The readings of the fit are of this joint: drive angles in deg, measured values in the unit of its commands. Values that look like
/// another unit (deg for rad, pulse widths for drive angles) are refused. The result of a sense test stays with the day on which it was
/// made.
///
/// - robot: the robot to begin with; it stays as it is.
/// - name: the joint's name, UTF-8, ends with a NUL.
/// - fit: limits found of that joint, along the drive angle.
/// - today: the day on which the readings were taken, "2026-11-20", ends with a NUL. NULL: not given.
/// - map: ELB_MAP_...: what happens to the map from command to drive angle.
/// - out: receives the new robot; free it with elb_robot_free.
/// - error: receives the details when the call fails.
///
/// Nullable: today, error. Errors: ELB_STATUS_ABSENT if the fit left no travel, ELB_STATUS_MAP_CONTRADICTED,
/// ELB_STATUS_OPTION_OUTSIDE for another unit, ELB_STATUS_UNKNOWN_VALUE, ELB_STATUS_UNKNOWN_JOINT, ELB_STATUS_WRONG_TYPE for what is
/// not a day, ELB_STATUS_NOT_UTF8, and those of a joint's numbers.
ELB_MUST_USE
elb_status elb_robot_with_fit(const struct elb_robot *robot,
                              const char *name,
                              const struct elb_fit *fit,
                              const char *today,
                              uint32_t map,
                              struct elb_robot **out,
                              struct elb_error *error)
ELB_NOEXCEPT;

/// Makes a robot in which one joint has travel and evidence of a bring-up; its other numbers, comments and order stay.
///
/// Readings of the joint's own sensor are compared with the joint by the feedback in the file, and not where it has none; typed ones are
/// in the unit of its commands. Where they contradict the joint, nothing is written until `map` says what becomes of its map.
///
/// - robot: the robot to begin with; it stays as it is.
/// - name: the joint's name, UTF-8, ends with a NUL.
/// - session: a bring-up of that joint that found it ready.
/// - today: the day of the bring-up, "2026-11-20", ends with a NUL. NULL: not given.
/// - map: ELB_MAP_...: what happens to the map from command to drive angle.
/// - out: receives the new robot; free it with elb_robot_free.
/// - error: receives the details when the call fails.
///
/// Nullable: today, error. Errors: ELB_STATUS_ABSENT if the bring-up is not done or did not find the joint ready,
/// ELB_STATUS_MAP_CONTRADICTED, ELB_STATUS_OPTION_OUTSIDE for another unit, ELB_STATUS_UNKNOWN_VALUE, ELB_STATUS_UNKNOWN_JOINT,
/// ELB_STATUS_WRONG_TYPE for what is not a day, ELB_STATUS_NOT_UTF8, and those of a joint's numbers.
ELB_MUST_USE
elb_status elb_robot_with_session(const struct elb_robot *robot,
                                  const char *name,
                                  const struct elb_session *session,
                                  const char *today,
                                  uint32_t map,
                                  struct elb_robot **out,
                                  struct elb_error *error)
ELB_NOEXCEPT;

/// Makes a robot without one of its joints.
///
/// - robot: the robot to begin with; it stays as it is.
/// - name: the joint's name, UTF-8, ends with a NUL.
/// - out: receives the new robot; free it with elb_robot_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_UNKNOWN_JOINT, ELB_STATUS_NOT_UTF8.
ELB_MUST_USE
elb_status elb_robot_without_joint(const struct elb_robot *robot,
                                   const char *name,
                                   struct elb_robot **out,
                                   struct elb_error *error)
ELB_NOEXCEPT;

/// The unit of a joint's commands as a number, with its factor to SI: commands times `to_si` are radians, metres or plain
/// numbers, and what a program in radians sends is divided by it.
///
/// - i: the joint's place in the file, counted from 0.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT if there are not so many joints.
ELB_MUST_USE
elb_status elb_robot_unit_at(const struct elb_robot *robot,
                             size_t i,
                             struct elb_unit *out)
ELB_NOEXCEPT;

/// The place of a joint's name in the file, counted from 0: what elb_robot_joint_at, elb_robot_entry_at, elb_robot_unit_at and
/// the arrays of elb_robot_counts go by. Allocates nothing, found or not.
///
/// - name: UTF-8, ends with a NUL.
/// - out: receives the place.
/// - error: receives the details when the call fails: the nearest name that there is.
///
/// Nullable: error. Errors: ELB_STATUS_UNKNOWN_JOINT, ELB_STATUS_NOT_UTF8.
ELB_MUST_USE
elb_status elb_robot_find(const struct elb_robot *robot,
                          const char *name,
                          size_t *out,
                          struct elb_error *error)
ELB_NOEXCEPT;

/// @}

/// @name All joints of a robot in one call
/// @{

/// The timer counts of all joints: for each the value of elb_joint_counts, in less time than so many calls. It never allocates
/// and takes a bounded number of steps.
///
/// - commands: `n` commands in file order, each in its joint's own unit.
/// - n: how many joints the robot has, as elb_robot_joint_count gives it.
/// - counts: receives `n` counts.
/// - flags: receives for each ELB_CLAMPED_TO_COMMAND, ELB_CLAMPED_TO_TRAVEL, both or none.
/// - done: receives how many were written: `n`; or the index of the command that is NaN or infinite: the joints before it are
///   converted, it and the rest are not. To keep the others moving, put that joint's elb_ramp_value in its place and call again.
///   0 after every other error.
///
/// Nullable: flags, done; commands and counts if n is 0. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_LENGTH_MISMATCH (`n` is
/// not what elb_robot_joint_count gives), ELB_STATUS_OVERLAP; after the last two nothing is written.
ELB_MUST_USE
elb_status elb_robot_counts(const struct elb_robot *robot,
                            const double *commands,
                            size_t n,
                            uint32_t *counts,
                            uint32_t *flags,
                            size_t *done)
ELB_NOEXCEPT;

/// @}

/// @name Checking a robot
/// @{

/// Checks a robot by every rule.
///
/// - today: the day as of which the age of evidence is judged, "2026-11-20", ends with a NUL. NULL: age is not judged.
/// - out: receives the findings; free them with elb_findings_free.
/// - error: receives the details when the call fails.
///
/// Nullable: today, error. Errors: ELB_STATUS_WRONG_TYPE for what is not a day, ELB_STATUS_NOT_UTF8.
ELB_MUST_USE
elb_status elb_robot_check(const struct elb_robot *robot,
                           const char *today,
                           struct elb_findings **out,
                           struct elb_error *error)
ELB_NOEXCEPT;

/// Frees findings. They must be freed once, and never while they are in use.
///
/// Nullable: findings (nothing happens).
void elb_findings_free(struct elb_findings *findings) ELB_NOEXCEPT;

/// How many findings are open: the robot as a whole first, then joint by joint in file order.
ELB_MUST_USE elb_status elb_findings_count(const struct elb_findings *findings, size_t *out) ELB_NOEXCEPT;

/// One open finding.
///
/// - i: 0 to elb_findings_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_findings_at(const struct elb_findings *findings,
                           size_t i,
                           struct elb_finding *out)
ELB_NOEXCEPT;

/// How many findings the robot file waives.
ELB_MUST_USE
elb_status elb_findings_waived_count(const struct elb_findings *findings,
                                     size_t *out)
ELB_NOEXCEPT;

/// One finding that the robot file waives; its `waiver` is the reason given.
///
/// - i: 0 to elb_findings_waived_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_findings_waived_at(const struct elb_findings *findings,
                                  size_t i,
                                  struct elb_finding *out)
ELB_NOEXCEPT;

/// The name of a severity: "note", "warning", "error".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
const char *elb_severity_name(uint32_t severity)
ELB_NOEXCEPT;

/// @}

/// @name Robot descriptions
///
/// Planners and simulators read how far a joint goes from URDF or MJCF. Here such a file is compared with a robot, and the measured limits are
/// written into it.
/// @{

/// Checks a robot by every rule, those about a URDF file included: elb_robot_check with a second opinion.
///
/// - today: as for elb_robot_check.
/// - urdf: the text of the URDF file, UTF-8, `length` bytes; need not end with a NUL.
/// - out: receives the findings; free them with elb_findings_free.
/// - error: receives the details when the call fails, with line and column of the URDF file.
///
/// Nullable: today, error. Errors: as elb_robot_check, ELB_STATUS_FILE_SYNTAX for what is not a URDF, ELB_STATUS_WRONG_TYPE and
/// ELB_STATUS_VALUE_OUTSIDE for its numbers.
ELB_MUST_USE
elb_status elb_robot_check_urdf(const struct elb_robot *robot,
                                const char *today,
                                const char *urdf,
                                size_t length,
                                struct elb_findings **out,
                                struct elb_error *error)
ELB_NOEXCEPT;

/// Writes the limits of a robot's joints into the text of a URDF or MJCF file; which of them, its outermost element says.
///
/// A joint's limits are its travel in commands, limited to its command range: in rad or m in URDF, in MJCF in deg or rad as its compiler
/// element states, or m, with limited="true". Joints are found by name. Only these attributes change: order, comments and all
/// else stay. Files that MJCF includes are not followed.
///
/// - text: the file, UTF-8, `length` bytes; need not end with a NUL.
/// - out: receives the new text and what became of each joint; free it with elb_description_free.
/// - error: receives the details when the call fails, with line and column.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_UTF8, ELB_STATUS_FILE_SYNTAX for what is neither, ELB_STATUS_WRONG_TYPE for what is not a
/// number, ELB_STATUS_VALUE_OUTSIDE for limits that are swapped there.
ELB_MUST_USE
elb_status elb_robot_limits_into(const struct elb_robot *robot,
                                 const char *text,
                                 size_t length,
                                 struct elb_description **out,
                                 struct elb_error *error)
ELB_NOEXCEPT;

/// Frees a description. It must be freed once, and never while it is in use.
///
/// Nullable: description (nothing happens).
void elb_description_free(struct elb_description *description) ELB_NOEXCEPT;

/// The text with the limits in it.
///
/// - out: receives a text that lives as long as the description.
ELB_MUST_USE
elb_status elb_description_text(const struct elb_description *description,
                                const char **out)
ELB_NOEXCEPT;

/// How many joints the robot has: first those whose limits were written, then those that were left out.
ELB_MUST_USE
elb_status elb_description_joint_count(const struct elb_description *description,
                                       size_t *out)
ELB_NOEXCEPT;

/// What became of one joint.
///
/// - i: 0 to elb_description_joint_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
ELB_MUST_USE
elb_status elb_description_joint_at(const struct elb_description *description,
                                    size_t i,
                                    struct elb_description_joint *out)
ELB_NOEXCEPT;

/// @}

/// @name Soft start and rate limit
///
/// Holds a value, e.g. a command or a drive angle, that follows its target by bounded steps, one call in each cycle of a
/// control loop. No step is longer than the longest; where its change is bounded as well, no step differs from the one
/// before it by more; a target that holds still is reached exactly and without overshoot; the value never leaves the span
/// of its start and all its targets.
///
/// The first step is the slow one: hand over the angle where the drive stands, not the one where it should be. A servo
/// without a reading jumps to its first pulse at full speed; no ramp can help that.
/// @{

/// Starts a ramp, with limits for each second.
///
/// - start: where the value stands, in its own unit.
/// - max_rate_per_s: the fastest it may change, units per second.
/// - acceleration_per_s2: the fastest that its rate may change, units per second squared. 0: not bounded.
/// - cycles_hz: cycles of the loop in a second.
/// - out: receives the ramp; free it with elb_ramp_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_OPTION_OUTSIDE for an
/// acceleration that takes more than 4096 cycles to the full rate.
ELB_MUST_USE
elb_status elb_ramp_new(double start,
                        double max_rate_per_s,
                        double acceleration_per_s2,
                        double cycles_hz,
                        struct elb_ramp **out,
                        struct elb_error *error)
ELB_NOEXCEPT;

/// Starts a ramp, with limits for each cycle.
///
/// - start: where the value stands, in its own unit.
/// - most_step: the longest step.
/// - most_change: the most by which a step may differ from the one before it. 0: not bounded.
/// - out: receives the ramp; free it with elb_ramp_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: as elb_ramp_new.
ELB_MUST_USE
elb_status elb_ramp_per_cycle(double start,
                              double most_step,
                              double most_change,
                              struct elb_ramp **out,
                              struct elb_error *error)
ELB_NOEXCEPT;

/// Starts a ramp of one joint's commands, which holds its targets to the joint's command range and to the commands of its travel
/// first. A plain ramp runs on towards a target out of reach while the motor stands at the end, and must come all the way back
/// before the motor moves again; this one reverses at once.
///
/// - joint: the joint; not needed after the call.
/// - start: the command at which it stands, which may be out of reach: it comes in from there.
/// - max_rate_per_s: command units per second, at most the joint's own where it has one. 0: the joint's own.
/// - acceleration_per_s2: command units per second squared. 0: not bounded.
/// - cycles_hz: cycles of the loop in a second.
/// - out: receives the ramp; free it with elb_ramp_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_MISSING_KEY if neither the joint nor the call names a rate, ELB_STATUS_OPTION_OUTSIDE for a
/// rate above the joint's own; otherwise as elb_ramp_new.
ELB_MUST_USE
elb_status elb_ramp_of_joint(const struct elb_joint *joint,
                             double start,
                             double max_rate_per_s,
                             double acceleration_per_s2,
                             double cycles_hz,
                             struct elb_ramp **out,
                             struct elb_error *error)
ELB_NOEXCEPT;

/// Frees a ramp, once.
///
/// Nullable: ramp (nothing happens).
void elb_ramp_free(struct elb_ramp *ramp) ELB_NOEXCEPT;

/// Takes one step towards a target: once in each cycle, also when the target holds still. It allocates nothing.
///
/// - target: where the value is to go; another one may be given at any time.
/// - out: receives the value after the step.
///
/// Errors: ELB_STATUS_NOT_FINITE, and the value stays where it was.
ELB_MUST_USE
elb_status elb_ramp_follow(struct elb_ramp *ramp,
                           double target,
                           double *out)
ELB_NOEXCEPT;

/// elb_ramp_follow that tells as well what held the target back.
///
/// - target: where the value is to go.
/// - out: receives the value after the step, and in its flags what of the target was out of the joint's reach; always 0 for a
///   ramp that was not made of a joint.
///
/// Errors: ELB_STATUS_NOT_FINITE, and the value stays where it was.
ELB_MUST_USE
elb_status elb_ramp_step(struct elb_ramp *ramp,
                         double target,
                         struct elb_conversion *out)
ELB_NOEXCEPT;

/// Stands still at a value again, with the same limits: after a stop, or when the drive was moved by something else. It
/// allocates nothing.
///
/// - start: where the value stands now.
///
/// Errors: ELB_STATUS_NOT_FINITE, and the value stays where it was.
ELB_MUST_USE
elb_status elb_ramp_reset(struct elb_ramp *ramp,
                          double start)
ELB_NOEXCEPT;

/// Takes other limits from the next step on; the value and its pace stay. A value that is faster than the new rate slows down by the
/// acceleration, or at once where that is 0. It allocates nothing.
///
/// - max_rate_per_s: units per second; for a ramp of a joint at most the joint's own.
/// - acceleration_per_s2: units per second squared. 0: not bounded. Lowered so late that the way to brake leads past all targets, it
///   is exceeded: the value stops at the furthest of them.
/// - cycles_hz: cycles of the loop in a second; 1 for limits for each cycle.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: as elb_ramp_new, and ELB_STATUS_OPTION_OUTSIDE for a rate above the joint's own; the limits stay as they
/// were.
ELB_MUST_USE
elb_status elb_ramp_limit(struct elb_ramp *ramp,
                          double max_rate_per_s,
                          double acceleration_per_s2,
                          double cycles_hz,
                          struct elb_error *error)
ELB_NOEXCEPT;

/// Takes the range and the travel of another joint, and other limits, from the next step on; the command and its pace stay: after
/// a travel was narrowed, or a joint was calibrated again. A command that is out of reach now comes in by bounded steps. It allocates nothing.
///
/// - joint: the joint; not needed after the call.
/// - max_rate_per_s: command units per second, at most the joint's own where it has one. 0: the joint's own.
/// - acceleration_per_s2: command units per second squared. 0: not bounded.
/// - cycles_hz: cycles of the loop in a second.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_ABSENT for a ramp that was not made of a joint; otherwise as elb_ramp_of_joint. All stays as
/// it was.
ELB_MUST_USE
elb_status elb_ramp_change_joint(struct elb_ramp *ramp,
                                 const struct elb_joint *joint,
                                 double max_rate_per_s,
                                 double acceleration_per_s2,
                                 double cycles_hz,
                                 struct elb_error *error)
ELB_NOEXCEPT;

/// The value after the last step.
///
/// - out: receives it.
ELB_MUST_USE elb_status elb_ramp_value(const struct elb_ramp *ramp, double *out) ELB_NOEXCEPT;

/// Whether the value stands still at a target.
///
/// - out: receives 1 if it does, else 0.
ELB_MUST_USE
elb_status elb_ramp_rests_at(const struct elb_ramp *ramp,
                             double target,
                             uint32_t *out)
ELB_NOEXCEPT;

/// @}

/// @name Whether a joint follows
///
/// Compares the command sent with the position measured, one call in each cycle of a control loop. Expected is a joint that closes in
/// each cycle at least 1 / (1 + lag_cycles) of its distance to the command. One that is further than the tolerance from where such
/// a joint can be, for longer than most_cycles in a row, does not follow.
///
/// The limits depend on servo, load and sensor: record some sound motions, and choose the least values that find nothing in them. What
/// to do about a joint that does not follow is the caller's matter.
/// @{

/// Begins with a joint that stands still.
///
/// - start: the command at which it stands.
/// - tolerance: how far the joint may be measured from where it should be, in the unit of its commands: at least the lost motion and
///   the scatter of the sensor. Above 0.
/// - lag_cycles: the longest time constant of a joint that follows, in cycles: after a step of the command, 63 % of the way are done
///   within it. 0 for a joint that is where it should be in the cycle of its command.
/// - most_cycles: for how many cycles in a row the joint may be where it is not expected, e.g. for the dead time of servo and sensor,
///   before it counts as not following.
/// - out: receives the check; free it with elb_follow_check_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE for the tolerance, ELB_STATUS_OPTION_OUTSIDE for a lag
/// below 0.
ELB_MUST_USE
elb_status elb_follow_check_new(double start,
                                double tolerance,
                                double lag_cycles,
                                uint32_t most_cycles,
                                struct elb_follow_check **out,
                                struct elb_error *error)
ELB_NOEXCEPT;

/// Frees a check, once.
///
/// Nullable: check (nothing happens).
void elb_follow_check_free(struct elb_follow_check *check) ELB_NOEXCEPT;

/// Compares the command sent with where the joint was measured: once in each cycle. It allocates nothing.
///
/// - command: the one that the joint can reach, as the ramp of a joint gives it. In a cycle in which none is sent, the last one again.
/// - measured: in the unit of the commands, e.g. what elb_joint_command_from_reading gives. NaN and infinities are a fault of the
///   sensor, ELB_READING_IMPOSSIBLE: the position is unknown then, and the cycles outside are counted on after it.
/// - out: receives what is found.
///
/// Errors: ELB_STATUS_NOT_FINITE for the command, and all stays as it was.
ELB_MUST_USE
elb_status elb_follow_check_tick(struct elb_follow_check *check,
                                 double command,
                                 double measured,
                                 struct elb_following *out)
ELB_NOEXCEPT;

/// elb_follow_check_tick with a reading of the joint's sensor, whose faults are seen where elb_joint_detects_wire_faults says so. The
/// command is held to what the joint can reach. It allocates nothing.
///
/// - joint: the joint; not needed after the call.
/// - command: the one that was sent. In a cycle in which none is sent, the last one again.
/// - reading: in the sensor's unit.
/// - out: receives what is found.
///
/// Errors: ELB_STATUS_NOT_FINITE for the command, ELB_STATUS_NO_FEEDBACK; all stays as it was.
ELB_MUST_USE
elb_status elb_follow_check_tick_reading(struct elb_follow_check *check,
                                         const struct elb_joint *joint,
                                         double command,
                                         double reading,
                                         struct elb_following *out)
ELB_NOEXCEPT;

/// Between which commands the joint is expected after the last tick, without the tolerance.
///
/// - lower, upper: receive the ends, in the unit of the joint's commands.
ELB_MUST_USE
elb_status elb_follow_check_expected(const struct elb_follow_check *check,
                                     double *lower,
                                     double *upper)
ELB_NOEXCEPT;

/// Begins again with a joint that stands still, with the same limits: after a stop, or when the joint was moved by something else. It
/// allocates nothing.
///
/// - start: the command at which it stands now.
///
/// Errors: ELB_STATUS_NOT_FINITE, and all stays as it was.
ELB_MUST_USE
elb_status elb_follow_check_reset(struct elb_follow_check *check,
                                  double start)
ELB_NOEXCEPT;

/// The name of what a check finds: "follows", "lags", "does-not-follow", "sensor-fault".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
const char *elb_follow_name(uint32_t state)
ELB_NOEXCEPT;

/// @}

/// @name Bring-up
///
/// The whole procedure from loose parts to a joint ready for software, without input or output of its own: ask for the next
/// action, do it, report it, until ELB_ACTION_DONE. bindings/c/examples/bring_up.c drives one and shows where the serial
/// port goes. Asking changes nothing; elb_session_json and elb_session_parse take it over a restart.
///
/// This computes and cannot stop a motor. Load off, a hand on the power switch, the first move slow, nobody's hands in
/// the joint; show the cautions that elb_session_prompt gives. Not a safety function in the sense of ISO 13849 or IEC 61508.
/// @{

/// Sets a plan to its defaults (verify them against the data sheet) and notes its size.
///
/// - config: the struct. Written only on success.
/// - size: `sizeof(elb_session_config)`, as the caller's header has it.
ELB_MUST_USE
elb_status elb_session_config_init(struct elb_session_config *config,
                                   size_t size)
ELB_NOEXCEPT;

/// Takes what a fit found into a plan as what is known from before, so that the bring-up can tell what has changed since.
///
/// - config: the plan, begun with elb_session_config_init; receives the fields that begin with `baseline`. Written only on
///   success.
/// - before: limits found of that joint by an earlier bring-up, with the readings of the same sensor as measured values.
ELB_MUST_USE
elb_status elb_session_config_set_baseline(struct elb_session_config *config,
                                           const struct elb_fit *before)
ELB_NOEXCEPT;

/// The same from a bring-up of that joint that is done.
///
/// - config: the plan, as for elb_session_config_set_baseline. Written only on success.
/// - before: the bring-up.
///
/// Errors: ELB_STATUS_ABSENT where it is not done or ended without a fit.
ELB_MUST_USE
elb_status elb_session_config_set_baseline_of_session(struct elb_session_config *config,
                                                      const struct elb_session *before)
ELB_NOEXCEPT;

/// The same from a joint of a robot file: the contacts of its evidence, and the line of its feedback.
///
/// - config: the plan, as for elb_session_config_set_baseline. Written only on success.
/// - robot: the robot.
/// - i: 0 to elb_robot_joint_count - 1.
///
/// Errors: ELB_STATUS_ABSENT where there is no such joint, or none with a feedback map.
ELB_MUST_USE
elb_status elb_session_config_set_baseline_of_joint(struct elb_session_config *config,
                                                    const struct elb_robot *robot,
                                                    size_t i)
ELB_NOEXCEPT;

/// Checks a plan and begins a bring-up.
///
/// - config: the plan; not needed after the call.
/// - out: receives the bring-up; free it with elb_session_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_OPTION_OUTSIDE,
/// ELB_STATUS_ENDS_SWAPPED, ELB_STATUS_ZERO_WIDTH, ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_session_new(const struct elb_session_config *config,
                           struct elb_session **out,
                           struct elb_error *error)
ELB_NOEXCEPT;

/// Frees a bring-up, once.
///
/// Nullable: session (nothing happens).
void elb_session_free(struct elb_session *session) ELB_NOEXCEPT;

/// What to do next. Asking changes nothing.
///
/// - out: receives the action.
ELB_MUST_USE
elb_status elb_session_next(const struct elb_session *session,
                            struct elb_action *out)
ELB_NOEXCEPT;

/// What the person at the joint is to read now: a line for each caution, one for what contradicts the last answer, one
/// for the question; at the end the verdict. Empty where nobody is asked; of a bring-up with typed readings, a sentence for every step.
///
/// - text: receives the text, UTF-8, with a NUL at its end.
/// - room: bytes that `text` has room for, at least `length` + 1.
/// - length: receives the length without the NUL, also when the room is too small.
///
/// Nullable: text if room is 0, to ask for the length alone; length. Errors: ELB_STATUS_NO_ROOM.
ELB_MUST_USE
elb_status elb_session_prompt(const struct elb_session *session,
                              char *text,
                              size_t room,
                              size_t *length)
ELB_NOEXCEPT;

/// What must be said before the next action, for a front end with pictures or words of its own.
///
/// - out: receives a sum of ELB_CAUTION_...; 0 where nothing must be said.
ELB_MUST_USE elb_status elb_session_cautions(const struct elb_session *session, uint32_t *out) ELB_NOEXCEPT;

/// Takes the report of what elb_session_next asked. It allocates nothing but in two reports, while the drive stands still: the one
/// that ends the sweeps, where what was read is fitted, and the one that ends the bring-up. (A bring-up with typed
/// readings allocates at each report.)
///
/// - report: what was done.
/// - error: receives the details when the call fails; nothing changes then.
///
/// Nullable: error. Errors: ELB_STATUS_WRONG_REPORT, ELB_STATUS_PROCEDURE_DONE, ELB_STATUS_NOT_FINITE,
/// ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_session_report(struct elb_session *session,
                              const struct elb_report *report,
                              struct elb_error *error)
ELB_NOEXCEPT;

/// Ends it here; the joint is not ready for software. A bring-up that is done stays as it is.
ELB_MUST_USE elb_status elb_session_stop(struct elb_session *session) ELB_NOEXCEPT;

/// Saves a bring-up, to be restored with elb_session_parse.
///
/// - text: receives JSON, UTF-8, with a NUL at its end.
/// - room: bytes that `text` has room for, at least `length` + 1.
/// - length: receives the length without the NUL, also when the room is too small.
///
/// Nullable: text if room is 0, to ask for the length alone; length. Errors: ELB_STATUS_NO_ROOM.
ELB_MUST_USE
elb_status elb_session_json(const struct elb_session *session,
                            char *text,
                            size_t room,
                            size_t *length)
ELB_NOEXCEPT;

/// Restores a bring-up. Its power may have been off since: the next action brings the drive slowly back to where
/// it last was.
///
/// - text: what elb_session_json wrote, `length` bytes; need not end with a NUL.
/// - out: receives the bring-up; free it with elb_session_free.
/// - error: receives the details when the call fails.
///
/// Nullable: text if length is 0; error. Errors: ELB_STATUS_WRONG_TYPE for what is not a saved bring-up,
/// ELB_STATUS_NOT_UTF8.
ELB_MUST_USE
elb_status elb_session_parse(const char *text,
                             size_t length,
                             struct elb_session **out,
                             struct elb_error *error)
ELB_NOEXCEPT;

/// How a bring-up ended.
///
/// - out: receives the outcome.
///
/// Errors: ELB_STATUS_ABSENT before its end.
ELB_MUST_USE
elb_status elb_session_outcome(const struct elb_session *session,
                               struct elb_outcome *out)
ELB_NOEXCEPT;

/// Sets the plan of a bring-up with typed readings to its defaults (verify them against the data sheet) and notes its size.
///
/// - config: the struct. Written only on success.
/// - size: `sizeof(elb_bench_config)`, as the caller's header has it.
ELB_MUST_USE
elb_status elb_bench_config_init(struct elb_bench_config *config,
                                 size_t size)
ELB_NOEXCEPT;

/// Checks a plan and begins a bring-up for a person who types each reading, with as few of them as the bound on overtravel allows.
///
/// It is carried on by the calls of any bring-up: elb_session_next, elb_session_prompt, which has a sentence for every step, and
/// elb_session_report. A reading that does not fit those before is asked for again. A read may also be reported as
/// ELB_ACTION_ASK with ELB_ANSWER_AGAIN: then the drive comes to the place once more. elb_session_undo takes answers back.
///
/// No command lies further than the overtravel beyond a stop as met in the direction driven, also where something came into the way
/// after the stops were felt by hand; with one writing error that hides a contact, no further than twice that.
///
/// - config: the plan; not needed after the call.
/// - out: receives the bring-up; free it with elb_session_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_OPTION_OUTSIDE,
/// ELB_STATUS_ENDS_SWAPPED, ELB_STATUS_ZERO_WIDTH, ELB_STATUS_UNKNOWN_VALUE.
ELB_MUST_USE
elb_status elb_session_new_bench(const struct elb_bench_config *config,
                                 struct elb_session **out,
                                 struct elb_error *error)
ELB_NOEXCEPT;

/// Takes the last reading or answer of a bring-up with typed readings back, with the moves after it. The drive first goes inward and
/// comes again; no move outward is made twice. What was done with the drive detached is taken back as a whole once it was fixed
/// again.
///
/// Errors: ELB_STATUS_ABSENT where nothing was answered yet, or where a program takes the readings.
ELB_MUST_USE
elb_status elb_session_undo(struct elb_session *session)
ELB_NOEXCEPT;

/// @}

/// @name Blocks written
///
/// Joints as one image for firmware, in single precision; the calls of the last section read it in place.
/// @{

/// Writes the block of the joints on one board.
///
/// - board: the board's name, UTF-8, ends with a NUL; NULL for all joints, if they share one.
/// - image: receives the block, `room` bytes.
/// - length: receives the length of the block, also when the room is too small.
/// - error: receives the details when the call fails.
///
/// Nullable: board; image if room is 0, to ask for the length alone; length; error. Errors: ELB_STATUS_NO_ROOM,
/// ELB_STATUS_BLOCK_FULL (too many joints), ELB_STATUS_OPTION_OUTSIDE (joints on several boards and
/// none named), ELB_STATUS_UNKNOWN_JOINT (none on this board), ELB_STATUS_MISSING_KEY (a joint without channel),
/// ELB_STATUS_CHANNEL_TWICE, ELB_STATUS_NOT_UTF8, and those of a joint's numbers where single precision cannot hold
/// them.
ELB_MUST_USE
elb_status elb_robot_block(const struct elb_robot *robot,
                           const char *board,
                           uint8_t *image,
                           size_t room,
                           size_t *length,
                           struct elb_error *error)
ELB_NOEXCEPT;

/// Writes the block of one joint.
///
/// - channel: the board's output that it is wired to.
/// - image, length, error: as for elb_robot_block.
///
/// Nullable: image if room is 0, to ask for the length alone; length; error. Errors: ELB_STATUS_NO_ROOM, and those of a
/// joint's numbers where single precision cannot hold them.
ELB_MUST_USE
elb_status elb_joint_block(const struct elb_joint *joint,
                           uint16_t channel,
                           uint8_t *image,
                           size_t room,
                           size_t *length,
                           struct elb_error *error)
ELB_NOEXCEPT;

/// @}

#ifdef __cplusplus
}  // extern "C"
#endif  // __cplusplus

#endif  // ELB_BLOCKS_ONLY

/// @name Blocks: joints on a microcontroller
///
/// A block is a robot's joints as a small binary image: f32, checksummed, read where it stands, from flash or RAM, without
/// heap, static memory or copies. These calls are all that a microcontroller's library contains
/// (bindings/firmware/build); the whole library has them too. They return statuses only.
///
/// - block, length: the image, exactly. Bytes need no alignment.
/// - channel: which joint.
/// - out: receives the result. Untouched on error.
///
/// Nullable: none. Errors of all: ELB_STATUS_NULL_POINTER, ELB_STATUS_MISALIGNED, ELB_STATUS_BAD_SIZE,
/// ELB_STATUS_BLOCK_..., ELB_STATUS_UNKNOWN_CHANNEL.
/// @{

/// What becomes of a command: every step on its way to the motor. 16 bytes.
typedef struct elb_block_conversion {
    /// The drive angle, deg.
    float drive;
    /// The pulse width, microseconds.
    float pulse_us;
    /// The timer count.
    uint32_t counts;
    /// ELB_CLAMPED_TO_COMMAND, ELB_CLAMPED_TO_TRAVEL, both or none.
    uint32_t flags;
} elb_block_conversion;

#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

/// Checks a block: length, version, checksum, and every number in it. Call it once, before any of the calls below.
///
/// Takes a few milliseconds on a small board. `length` is the whole image, exactly. Returns ELB_STATUS_OK,
/// ELB_STATUS_BLOCK_LENGTH, ELB_STATUS_BLOCK_BAD_MAGIC, ELB_STATUS_BLOCK_VERSION, ELB_STATUS_BLOCK_CHECKSUM,
/// ELB_STATUS_BLOCK_INVALID, ELB_STATUS_CHANNEL_TWICE, or what is wrong with one of its joints.
ELB_MUST_USE
elb_status elb_block_check(const uint8_t *block,
                           size_t length)
ELB_NOEXCEPT;

/// The timer count of a command of the joint on a channel.
///
/// The command is held to the command range and the drive angle to the travel; NaN and infinities are refused with
/// ELB_STATUS_NOT_FINITE, a count above 65535 with ELB_STATUS_COUNT_TOO_WIDE. `out` is untouched on error.
ELB_MUST_USE
elb_status elb_block_counts(const uint8_t *block,
                            size_t length,
                            uint16_t channel,
                            float command,
                            uint16_t *out)
ELB_NOEXCEPT;

/// The pulse width, microseconds, of a command of the joint on a channel. As elb_block_counts() otherwise.
ELB_MUST_USE
elb_status elb_block_pulse_us(const uint8_t *block,
                              size_t length,
                              uint16_t channel,
                              float command,
                              float *out)
ELB_NOEXCEPT;

/// Every step of a command of the joint on a channel, with what held it back. As elb_block_counts() otherwise.
ELB_MUST_USE
elb_status elb_block_convert(const uint8_t *block,
                             size_t length,
                             uint16_t channel,
                             float command,
                             struct elb_block_conversion *out)
ELB_NOEXCEPT;

/// The next command on the way from `from` to `target`, after `seconds`, no faster than the joint's rate.
///
/// The target is held to the command range first and then to the command at which the travel ends, so that the command never runs on
/// while the motor stands at the end, and turns back at once. A joint without a rate arrives at once. NaN and infinities are refused
/// with ELB_STATUS_NOT_FINITE, seconds below zero with ELB_STATUS_OPTION_OUTSIDE.
ELB_MUST_USE
elb_status elb_block_step(const uint8_t *block,
                          size_t length,
                          uint16_t channel,
                          float from,
                          float target,
                          float seconds,
                          float *out)
ELB_NOEXCEPT;

/// The command that the joint on a channel takes when no other is given.
ELB_MUST_USE
elb_status elb_block_rest(const uint8_t *block,
                          size_t length,
                          uint16_t channel,
                          float *out)
ELB_NOEXCEPT;

/// The command at which a reading of the joint's sensor was taken. Nothing is clamped; NaN gives NaN.
///
/// A block does not hold the range of the converter: a reading at its end, as of a broken wire, converts like any other. Compare
/// the reading with that range first.
///
/// A joint without a feedback map gives ELB_STATUS_NO_FEEDBACK.
ELB_MUST_USE
elb_status elb_block_command_from_reading(const uint8_t *block,
                                          size_t length,
                                          uint16_t channel,
                                          float reading,
                                          float *out)
ELB_NOEXCEPT;

/// The command of a timer count. Nothing is clamped.
ELB_MUST_USE
elb_status elb_block_command_from_counts(const uint8_t *block,
                                         size_t length,
                                         uint16_t channel,
                                         uint32_t counts,
                                         float *out)
ELB_NOEXCEPT;

/// The command of a pulse width in microseconds. Nothing is clamped; NaN gives NaN.
ELB_MUST_USE
elb_status elb_block_command_from_pulse_us(const uint8_t *block,
                                           size_t length,
                                           uint16_t channel,
                                           float pulse_us,
                                           float *out)
ELB_NOEXCEPT;

/// The command of a drive angle in deg. Nothing is clamped; NaN gives NaN.
ELB_MUST_USE
elb_status elb_block_command_from_drive(const uint8_t *block,
                                        size_t length,
                                        uint16_t channel,
                                        float drive,
                                        float *out)
ELB_NOEXCEPT;

#ifdef __cplusplus
}  // extern "C"
#endif  // __cplusplus

/// @}

// On an AVR, constants stay in flash only if they are marked PROGMEM, and pointers do not reach them there. These are the
// same calls for such a block: `block` is its address in flash, within the first 64 kB.
#if defined(__AVR__)
#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

ELB_MUST_USE elb_status elb_block_check_flash(const uint8_t *block, size_t length) ELB_NOEXCEPT;
ELB_MUST_USE elb_status elb_block_counts_flash(const uint8_t *block, size_t length, uint16_t channel, float command,
                                  uint16_t *out) ELB_NOEXCEPT;
ELB_MUST_USE elb_status elb_block_pulse_us_flash(const uint8_t *block, size_t length, uint16_t channel, float command,
                                    float *out) ELB_NOEXCEPT;
ELB_MUST_USE elb_status elb_block_convert_flash(const uint8_t *block, size_t length, uint16_t channel, float command,
                                   elb_block_conversion *out) ELB_NOEXCEPT;
ELB_MUST_USE elb_status elb_block_step_flash(const uint8_t *block, size_t length, uint16_t channel, float from, float target,
                                float seconds, float *out) ELB_NOEXCEPT;
ELB_MUST_USE elb_status elb_block_rest_flash(const uint8_t *block, size_t length, uint16_t channel,
                                float *out) ELB_NOEXCEPT;
ELB_MUST_USE elb_status elb_block_command_from_reading_flash(const uint8_t *block, size_t length, uint16_t channel, float reading,
                                                float *out) ELB_NOEXCEPT;
ELB_MUST_USE elb_status elb_block_command_from_counts_flash(const uint8_t *block, size_t length, uint16_t channel, uint32_t counts,
                                               float *out) ELB_NOEXCEPT;
ELB_MUST_USE elb_status elb_block_command_from_pulse_us_flash(const uint8_t *block, size_t length, uint16_t channel, float pulse_us,
                                                 float *out) ELB_NOEXCEPT;
ELB_MUST_USE elb_status elb_block_command_from_drive_flash(const uint8_t *block, size_t length, uint16_t channel, float drive,
                                              float *out) ELB_NOEXCEPT;

#ifdef __cplusplus
}  // extern "C"
#endif // __cplusplus
#endif  // __AVR__

#endif  // ELBOWROOM_H
