// SPDX-FileCopyrightText: 2026 The elbowroom developers
// SPDX-License-Identifier: MIT
//
// elbowroom.hpp: owners and exceptions for C++17 over elbowroom.h and elbowroom_analysis.h, where everything is explained.
//
//     elb::Joint joint(config);                        // throws elb::Error with the full sentence
//     elb_conversion drive = joint.drive(90.0);        // throws if the command is not finite
//     std::vector<std::uint32_t> counts = joint.counts(commands);
//
// In a control cycle, and in programs without exceptions, the same calls begin with try_: they are noexcept, return the status and
// write the result on success alone. What gives a vector or a string has one into the caller's array, or for one element, or a
// text that its owner keeps: of all of these nothing is allocated. A try_ that makes something fills an elb_error and gives an
// owner that is empty where it failed.
//
//     elb_error error;
//     elb::Joint joint = elb::Joint::try_make(config, error);
//     if (!joint) return error.message;
//     elb_conversion counts;
//     if (joint.try_counts(90.0, counts) == ELB_STATUS_OK) ...
//
// Owners move and do not copy (Joint has clone()); one that was made without arguments, or moved from, is empty, and its calls
// come to ELB_STATUS_NULL_POINTER. Nothing here computes; each call is one call of those headers.
//
// With exceptions off (-fno-exceptions) a call that would throw ends in elb::fail, which the program then defines.
#ifndef ELBOWROOM_HPP
#define ELBOWROOM_HPP

#include "elbowroom_analysis.h"

#if !defined(__cplusplus) || __cplusplus < 201703L
#if !defined(_MSVC_LANG) || _MSVC_LANG < 201703L
#error "elbowroom.hpp needs C++17; elbowroom.h is there for any C and C++"
#endif
#endif

#include <cstddef>
#include <cstdint>
#include <limits>
#include <memory>
#include <stdexcept>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>
#if defined(__has_include)
#if __has_include(<version>)
#include <version>
#endif
#endif
#if defined(__cpp_lib_span)
#include <span>
#endif

namespace elb {

/// The version of the library that runs: "0.1.0", and as the number that ELB_VERSION_NUMBER is of the header.
inline const char *version() noexcept { return elb_version(); }
inline std::uint32_t version_number() noexcept { return elb_version_number(); }

/// The general sentence of a status, and its name.
inline const char *text(elb_status status) noexcept { return elb_status_text(status); }
inline const char *name(elb_status status) noexcept { return elb_status_name(status); }

/// The names of flags (ELB_CLAMPED_...), states of readings (ELB_READING_...), kinds of ends (ELB_END_...), reasons for leaving a
/// reading out (ELB_REJECT_...) and severities (ELB_SEVERITY_...).
inline const char *clamped_name(std::uint32_t flags) noexcept { return elb_clamped_name(flags); }
inline const char *reading_name(std::uint32_t state) noexcept { return elb_reading_name(state); }
inline const char *follow_name(std::uint32_t state) noexcept { return elb_follow_name(state); }
inline const char *end_name(std::uint32_t kind) noexcept { return elb_end_name(kind); }
inline const char *reject_name(std::uint32_t reason) noexcept { return elb_reject_name(reason); }
inline const char *severity_name(std::uint32_t severity) noexcept { return elb_severity_name(severity); }

/// What a call of elbowroom.h came to, if not ELB_STATUS_OK.
class Error : public std::runtime_error {
public:
    explicit Error(elb_status status) : Error(status, std::string(elb_status_text(status))) {}
    explicit Error(const elb_error &error)
        : std::runtime_error(cause(error.status, error.message)), status_(error.status), index_(error.index), line_(error.line),
          column_(error.column), value_(error.value) {}
    /// With a sentence in place of the general one.
    Error(elb_status status, const std::string &sentence) : std::runtime_error(cause(status, sentence)), status_(status) {}
    Error(elb_status status, const std::string &sentence, std::size_t index, double value) : Error(status, sentence) {
        index_ = index;
        value_ = value;
    }

    elb_status status() const noexcept { return status_; }
    /// The array element at fault, or ELB_NO_INDEX.
    std::uint64_t index() const noexcept { return index_; }
    /// Place in a robot file, counted from 1; 0 if the error is about none.
    std::uint32_t line() const noexcept { return line_; }
    std::uint32_t column() const noexcept { return column_; }
    /// The value at fault; NaN where there is none.
    double value() const noexcept { return value_; }

private:
    /// Here a handle is NULL where an owner is empty.
    static std::string cause(elb_status status, std::string sentence) {
        if (status == ELB_STATUS_NULL_POINTER) {
            if (!sentence.empty() && sentence.back() != '.') sentence += '.';
            sentence += " An elb object is empty: made without arguments, moved from, or a try_ that failed. Or an array has no data.";
        }
        return sentence;
    }

    elb_status status_;
    std::uint64_t index_ = ELB_NO_INDEX;
    std::uint32_t line_ = 0, column_ = 0;
    double value_ = std::numeric_limits<double>::quiet_NaN();
};

/// What a call does that would throw.
#if defined(__cpp_exceptions) || defined(_CPPUNWIND)
[[noreturn]] inline void fail(const Error &error) { throw error; }
#else
/// With exceptions off the program defines it, to stop, restart or log. It must not return.
[[noreturn]] void fail(const Error &error);
#endif

/// Throws unless a call went well.
inline void check(elb_status status) {
    if (status != ELB_STATUS_OK) fail(Error(status));
}

/// A type that is not found from an argument.
template <class T> struct NonDeduced {
    using type = T;
};

/// The value that a call reads from a handle.
template <class H, class T> T asked(elb_status (*call)(const H *, T *), const H *handle) {
    T out{};
    check(call(handle, &out));
    return out;
}
template <class H, class A, class T>
T asked(elb_status (*call)(const H *, A, T *), const H *handle, typename NonDeduced<A>::type argument) {
    T out{};
    check(call(handle, argument, &out));
    return out;
}

/// Two ends that a call reads from a handle.
template <class H, class T> std::pair<T, T> asked(elb_status (*call)(const H *, T *, T *), const H *handle) {
    std::pair<T, T> out{};
    check(call(handle, &out.first, &out.second));
    return out;
}

/// So many answers, one for each index.
template <class H, class T>
std::vector<T> all(std::uint64_t n, elb_status (*call)(const H *, std::size_t, T *), const H *handle) {
    std::vector<T> out(static_cast<std::size_t>(n));
    for (std::size_t i = 0; i < out.size(); i++) check(call(handle, i, &out[i]));
    return out;
}

/// Refuses arrays of different lengths, with both numbers.
[[noreturn]] inline void fail_lengths(std::size_t one, const char *of_one, std::size_t other, const char *of_other) {
    fail(Error(ELB_STATUS_LENGTH_MISMATCH, std::string("the number of ") + of_one + " is " + std::to_string(one) + " and the number of " +
                                               of_other + " is " + std::to_string(other) + "; they must be equal"));
}

/// The size of two arrays that belong together.
inline std::size_t same_size(std::size_t one, const char *of_one, std::size_t other, const char *of_other) {
    if (one != other) fail_lengths(one, of_one, other, of_other);
    return one;
}

/// Refuses a value that is NaN or infinite, with its place.
[[noreturn]] inline void fail_not_finite(std::size_t index, double value, const std::string &of) {
    fail(Error(ELB_STATUS_NOT_FINITE, "the command at index " + std::to_string(index) + of + " is " + std::to_string(value) +
                                          "; give a finite number", index, value));
}

/// Whether columns that belong together are equally long; the sides, or uncertainties, may be missing.
inline bool fit_together(std::size_t n, std::size_t other, const void *optional = nullptr, std::size_t optionals = 0) noexcept {
    return n == other && (optional == nullptr || optionals == n);
}

/// The status of a call that was not made, also into its error, if one is given.
inline elb_status refused(elb_status status, elb_error *error) noexcept {
    if (error == nullptr) return status;
    *error = elb_error{};
    error->status = status;
    error->index = ELB_NO_INDEX;
    error->value = std::numeric_limits<double>::quiet_NaN();
    const char *sentence = elb_status_text(status);
    for (std::size_t i = 0; i + 1 < sizeof error->message && sentence[i] != 0; i++) error->message[i] = sentence[i];
    return status;
}

/// What a call makes, with the full sentence where it does not.
template <class T, class Call> T *made(Call call) {
    T *out = nullptr;
    elb_error error;
    if (call(&out, &error) != ELB_STATUS_OK) fail(Error(error));
    return out;
}

/// A call's yes or no, for programs without exceptions.
template <class Call> elb_status try_said(bool &out, Call call) noexcept {
    std::uint32_t said = 0;
    const elb_status status = call(&said);
    if (status == ELB_STATUS_OK) out = said != 0;
    return status;
}

/// Frees what it owns.
template <class T, void (*free)(T *)> struct Freed {
    void operator()(T *owned) const noexcept { free(owned); }
};
template <class T, void (*free)(T *)> using Owner = std::unique_ptr<T, Freed<T, free>>;

/// The owner of a handle that can be asked without owning it: JointRef and its like.
template <class Ref, class T, void (*free)(T *)> class Owned : public Ref {
public:
    Owned() noexcept : Ref(nullptr) {}
    /// Takes over what elbowroom.h made.
    explicit Owned(T *owned) noexcept : Ref(owned), owner_(owned) {}
    Owned(Owned &&other) noexcept : Ref(other), owner_(std::move(other.owner_)) { other.forget(); }
    Owned &operator=(Owned &&other) noexcept {
        if (this != &other) {
            Ref::operator=(other);
            owner_ = std::move(other.owner_);
            other.forget();
        }
        return *this;
    }
    Owned(const Owned &) = delete;
    Owned &operator=(const Owned &) = delete;
    ~Owned() = default;

private:
    void forget() noexcept { Ref::operator=(Ref(nullptr)); }
    Owner<T, free> owner_;
};

/// What a call makes, for programs without exceptions: nothing where it fails, and `error` tells.
template <class T, class Call> T *try_made(elb_error &error, Call call) noexcept {
    T *out = nullptr;
    return call(&out, &error) == ELB_STATUS_OK ? out : nullptr;
}

/// Some elements of somebody else's array: made from a pointer and a number, or from anything with data() and size()
/// (std::vector, std::array, std::span), or from a plain array.
template <class T> class View {
public:
    constexpr View(T *data, std::size_t size) noexcept : data_(data), size_(size) {}
    template <std::size_t N> constexpr View(T (&array)[N]) noexcept : data_(array), size_(N) {}
    template <class C, class = std::enable_if_t<std::is_convertible_v<decltype(std::declval<C &>().data()), T *> &&
                                                !std::is_same_v<std::remove_cv_t<C>, View>>>
    constexpr View(C &&container) noexcept : data_(container.data()), size_(container.size()) {}

#if defined(__cpp_lib_span)
    constexpr operator std::span<T>() const noexcept { return {data_, size_}; }
#endif
    constexpr T *data() const noexcept { return data_; }
    constexpr std::size_t size() const noexcept { return size_; }
    constexpr T *begin() const noexcept { return data_; }
    constexpr T *end() const noexcept { return data_ + size_; }

private:
    T *data_;
    std::size_t size_;
};

/// How many readings these columns hold; the sides may be missing.
inline std::size_t sided(View<const double> drive, View<const double> measured, View<const std::int8_t> approach) {
    const std::size_t n = same_size(drive.size(), "drive angles", measured.size(), "measured values");
    return approach.data() == nullptr ? n : same_size(approach.size(), "approaches", n, "drive angles");
}

/// A struct of elbowroom.h with its size and defaults set.
inline elb_joint_config joint_config() {
    elb_joint_config config;
    check(elb_joint_config_init(&config, sizeof config));
    return config;
}
[[nodiscard]] inline elb_status try_joint_config(elb_joint_config &out) noexcept { return elb_joint_config_init(&out, sizeof out); }
inline elb_readings readings() {
    elb_readings readings;
    check(elb_readings_init(&readings, sizeof readings));
    return readings;
}
[[nodiscard]] inline elb_status try_readings(elb_readings &out) noexcept { return elb_readings_init(&out, sizeof out); }
inline elb_fit_options fit_options() {
    elb_fit_options options;
    check(elb_fit_options_init(&options, sizeof options));
    return options;
}
[[nodiscard]] inline elb_status try_fit_options(elb_fit_options &out) noexcept { return elb_fit_options_init(&out, sizeof out); }

/// Asks for a length, makes room, and asks for the bytes.
template <class Call> std::vector<std::uint8_t> image(Call call) {
    std::size_t length = 0;
    elb_error error;
    if (call(nullptr, 0, &length, &error) != ELB_STATUS_OK) fail(Error(error));
    std::vector<std::uint8_t> bytes(length);
    if (call(bytes.data(), bytes.size(), &length, &error) != ELB_STATUS_OK) fail(Error(error));
    return bytes;
}

/// A joint that somebody else owns, such as one of a robot. Valid as long as its owner: a call that hands out what lives in its object is
/// deleted for a temporary one.
class JointRef {
public:
    explicit JointRef(const elb_joint *handle) noexcept : handle_(handle) {}
    explicit operator bool() const noexcept { return handle_ != nullptr; }
    const elb_joint *handle() const noexcept { return handle_; }

    elb_joint_config config() const {
        elb_joint_config config;
        check(elb_joint_config_of(handle_, &config, sizeof config));
        return config;
    }
    [[nodiscard]] elb_status try_config(elb_joint_config &out) const noexcept {
        return elb_joint_config_of(handle_, &out, sizeof out);
    }
    /// The knots of a curve, (n x 2), which config() counts only; none without one.
    std::vector<double> knots() const { return pairs(elb_joint_knots); }
    /// Into an array, (n x 2); `n` is how many pairs there are. A view of nothing: their number alone.
    [[nodiscard]] elb_status try_knots(View<double> out, std::size_t &n) const noexcept {
        return elb_joint_knots(handle_, out.data(), out.size() / 2, &n);
    }
    /// The same of the feedback.
    std::vector<double> feedback_knots() const { return pairs(elb_joint_feedback_knots); }
    /// Into an array, (n x 2); `n` is how many pairs there are. A view of nothing: their number alone.
    [[nodiscard]] elb_status try_feedback_knots(View<double> out, std::size_t &n) const noexcept {
        return elb_joint_feedback_knots(handle_, out.data(), out.size() / 2, &n);
    }
    /// The lowest and the highest count that this joint ever gives.
    std::pair<std::uint32_t, std::uint32_t> count_range() const { return asked(elb_joint_count_range, handle_); }
    [[nodiscard]] elb_status try_count_range(std::pair<std::uint32_t, std::uint32_t> &out) const noexcept {
        return elb_joint_count_range(handle_, &out.first, &out.second);
    }
    /// The commands up to which the transmission can go; the command range lies within.
    std::pair<double, double> valid_range() const { return asked(elb_joint_valid_range, handle_); }
    [[nodiscard]] elb_status try_valid_range(std::pair<double, double> &out) const noexcept {
        return elb_joint_valid_range(handle_, &out.first, &out.second);
    }

    elb_conversion drive(double command) const { return asked(elb_joint_drive, handle_, command); }
    elb_conversion pulse_us(double command) const { return asked(elb_joint_pulse_us, handle_, command); }
    elb_conversion counts(double command) const { return asked(elb_joint_counts, handle_, command); }
    /// The count for a drive angle, beyond the travel too, and the drive angle that it really commands: for ELB_REPORT_MOVED_TO.
    std::pair<elb_conversion, double> counts_from_drive(double drive) const {
        elb_conversion count;
        double commanded = 0;
        check(elb_joint_counts_from_drive(handle_, drive, &count, &commanded));
        return {count, commanded};
    }
    [[nodiscard]] elb_status try_counts_from_drive(double drive, elb_conversion &out, double &commanded) const noexcept {
        return elb_joint_counts_from_drive(handle_, drive, &out, &commanded);
    }
    /// The same in a control cycle: the status, and the result on success.
    [[nodiscard]] elb_status try_drive(double command, elb_conversion &out) const noexcept {
        return elb_joint_drive(handle_, command, &out);
    }
    [[nodiscard]] elb_status try_pulse_us(double command, elb_conversion &out) const noexcept {
        return elb_joint_pulse_us(handle_, command, &out);
    }
    [[nodiscard]] elb_status try_counts(double command, elb_conversion &out) const noexcept {
        return elb_joint_counts(handle_, command, &out);
    }
    [[nodiscard]] elb_status try_drive_per_command(double command, double &out) const noexcept {
        return elb_joint_drive_per_command(handle_, command, &out);
    }
    [[nodiscard]] elb_status try_command_from_drive(double drive, double &out) const noexcept {
        return elb_joint_command_from_drive(handle_, drive, &out);
    }
    [[nodiscard]] elb_status try_command_from_pulse_us(double pulse_us, double &out) const noexcept {
        return elb_joint_command_from_pulse_us(handle_, pulse_us, &out);
    }
    [[nodiscard]] elb_status try_command_from_counts(std::uint32_t counts, double &out) const noexcept {
        return elb_joint_command_from_counts(handle_, counts, &out);
    }
    double drive_per_command(double command) const { return asked(elb_joint_drive_per_command, handle_, command); }
    double command_from_drive(double drive) const { return asked(elb_joint_command_from_drive, handle_, drive); }
    double command_from_pulse_us(double pulse_us) const { return asked(elb_joint_command_from_pulse_us, handle_, pulse_us); }
    double command_from_counts(std::uint32_t counts) const { return asked(elb_joint_command_from_counts, handle_, counts); }

    /// Whether it has a feedback map; without one the calls below come to ELB_STATUS_NO_FEEDBACK.
    bool has_feedback() const { return asked(elb_joint_has_feedback, handle_) != 0; }
    [[nodiscard]] elb_status try_has_feedback(bool &out) const noexcept {
        return try_said(out, [&](std::uint32_t *said) { return elb_joint_has_feedback(handle_, said); });
    }
    [[nodiscard]] elb_status try_angle_from_reading(double reading, double &out) const noexcept {
        return elb_joint_angle_from_reading(handle_, reading, &out);
    }
    [[nodiscard]] elb_status try_command_from_reading(double reading, double &out) const noexcept {
        return elb_joint_command_from_reading(handle_, reading, &out);
    }
    [[nodiscard]] elb_status try_reading_from_command(double command, double &out) const noexcept {
        return elb_joint_reading_from_command(handle_, command, &out);
    }
    [[nodiscard]] elb_status try_reading_at_supply(double reading, double supply_v, double &out) const noexcept {
        return elb_joint_reading_at_supply(handle_, reading, supply_v, &out);
    }
    [[nodiscard]] elb_status try_reading_state(double reading, std::uint32_t &out) const noexcept {
        return elb_joint_reading_state(handle_, reading, &out);
    }

    /// The joint's sensor; throws ELB_STATUS_NO_FEEDBACK without one.
    double angle_from_reading(double reading) const { return asked(elb_joint_angle_from_reading, handle_, reading); }
    double command_from_reading(double reading) const { return asked(elb_joint_command_from_reading, handle_, reading); }
    double reading_from_command(double command) const { return asked(elb_joint_reading_from_command, handle_, command); }
    /// The reading at the supply that the feedback map was taken at.
    double reading_at_supply(double reading, double supply_v) const {
        double at_supply = 0;
        check(elb_joint_reading_at_supply(handle_, reading, supply_v, &at_supply));
        return at_supply;
    }
    /// What one count of the converter is worth at a reading, deg per unit of reading.
    double angle_per_reading(double reading) const { return asked(elb_joint_angle_per_reading, handle_, reading); }
    [[nodiscard]] elb_status try_angle_per_reading(double reading, double &out) const noexcept {
        return elb_joint_angle_per_reading(handle_, reading, &out);
    }
    /// Whether a broken or shorted wire can be seen: at the lower and at the upper rail of the converter.
    std::pair<bool, bool> detects_wire_faults() const {
        const auto seen = asked(elb_joint_detects_wire_faults, handle_);
        return {seen.first != 0, seen.second != 0};
    }
    [[nodiscard]] elb_status try_detects_wire_faults(bool &lower, bool &upper) const noexcept {
        std::uint32_t seen[2] = {0, 0};
        const elb_status status = elb_joint_detects_wire_faults(handle_, &seen[0], &seen[1]);
        if (status == ELB_STATUS_OK) lower = seen[0] != 0, upper = seen[1] != 0;
        return status;
    }
    /// One of ELB_READING_….
    std::uint32_t reading_state(double reading) const { return asked(elb_joint_reading_state, handle_, reading); }
    /// The image of this joint for firmware.
    std::vector<std::uint8_t> block(std::uint16_t channel) const {
        return image([&](std::uint8_t *bytes, std::size_t room, std::size_t *length, elb_error *error) {
            return elb_joint_block(handle_, channel, bytes, room, length, error);
        });
    }
    /// Into `image`; `length` is how many bytes it has. A view of nothing: the length alone.
    [[nodiscard]] elb_status try_block(std::uint16_t channel, View<std::uint8_t> image, std::size_t &length,
                                       elb_error *error = nullptr) const noexcept {
        return elb_joint_block(handle_, channel, image.data(), image.size(), &length, error);
    }

    /// Many commands into the caller's array, which may be the input itself where its elements are not the larger ones.
    /// Error::index(), or `done`, is the refused element; all before it is written.
    void drive(View<const double> command, View<double> out) const { batch(elb_joint_drive_batch, command, out); }
    [[nodiscard]] elb_status try_drive(View<const double> command, View<double> out, std::size_t &done) const noexcept {
        return try_batch(elb_joint_drive_batch, command, out, done);
    }
    void drive(View<const float> command, View<double> out) const { batch(elb_joint_drive_batch_f32, command, out); }
    [[nodiscard]] elb_status try_drive(View<const float> command, View<double> out, std::size_t &done) const noexcept {
        return try_batch(elb_joint_drive_batch_f32, command, out, done);
    }
    void pulse_us(View<const double> command, View<double> out) const { batch(elb_joint_pulse_us_batch, command, out); }
    [[nodiscard]] elb_status try_pulse_us(View<const double> command, View<double> out, std::size_t &done) const noexcept {
        return try_batch(elb_joint_pulse_us_batch, command, out, done);
    }
    void pulse_us(View<const float> command, View<double> out) const { batch(elb_joint_pulse_us_batch_f32, command, out); }
    [[nodiscard]] elb_status try_pulse_us(View<const float> command, View<double> out, std::size_t &done) const noexcept {
        return try_batch(elb_joint_pulse_us_batch_f32, command, out, done);
    }
    void counts(View<const double> command, View<std::uint16_t> out) const { batch(elb_joint_counts_batch, command, out); }
    [[nodiscard]] elb_status try_counts(View<const double> command, View<std::uint16_t> out, std::size_t &done) const noexcept {
        return try_batch(elb_joint_counts_batch, command, out, done);
    }
    void counts(View<const double> command, View<std::uint32_t> out) const { batch(elb_joint_counts_batch_u32, command, out); }
    [[nodiscard]] elb_status try_counts(View<const double> command, View<std::uint32_t> out, std::size_t &done) const noexcept {
        return try_batch(elb_joint_counts_batch_u32, command, out, done);
    }
    void counts(View<const float> command, View<std::uint16_t> out) const { batch(elb_joint_counts_batch_f32, command, out); }
    [[nodiscard]] elb_status try_counts(View<const float> command, View<std::uint16_t> out, std::size_t &done) const noexcept {
        return try_batch(elb_joint_counts_batch_f32, command, out, done);
    }
    void counts(View<const float> command, View<std::uint32_t> out) const { batch(elb_joint_counts_batch_f32_u32, command, out); }
    [[nodiscard]] elb_status try_counts(View<const float> command, View<std::uint32_t> out, std::size_t &done) const noexcept {
        return try_batch(elb_joint_counts_batch_f32_u32, command, out, done);
    }
    /// And back from the motor, where nothing is refused.
    void command_from_drive(View<const double> drive, View<double> out) const {
        check(try_command_from_drive(drive, out));
    }
    [[nodiscard]] elb_status try_command_from_drive(View<const double> drive, View<double> out) const noexcept {
        return try_back(elb_joint_command_from_drive_batch, drive, out);
    }
    void command_from_pulse_us(View<const double> pulse_us, View<double> out) const {
        check(try_command_from_pulse_us(pulse_us, out));
    }
    [[nodiscard]] elb_status try_command_from_pulse_us(View<const double> pulse_us, View<double> out) const noexcept {
        return try_back(elb_joint_command_from_pulse_us_batch, pulse_us, out);
    }
    void command_from_counts(View<const std::uint16_t> counts, View<double> out) const {
        check(try_command_from_counts(counts, out));
    }
    [[nodiscard]] elb_status try_command_from_counts(View<const std::uint16_t> counts, View<double> out) const noexcept {
        return try_back(elb_joint_command_from_counts_batch, counts, out);
    }
    void command_from_counts(View<const std::uint32_t> counts, View<double> out) const {
        check(try_command_from_counts(counts, out));
    }
    [[nodiscard]] elb_status try_command_from_counts(View<const std::uint32_t> counts, View<double> out) const noexcept {
        return try_back(elb_joint_command_from_counts_batch_u32, counts, out);
    }
    /// Into a new vector; 32 bits hold the counts of every joint.
    std::vector<std::uint32_t> counts(View<const double> command) const {
        std::vector<std::uint32_t> out(command.size());
        counts(command, View<std::uint32_t>(out.data(), out.size()));
        return out;
    }
    [[nodiscard]] elb_status try_tally(View<const double> command, elb_tally &out) const noexcept {
        return elb_joint_tally(handle_, command.data(), command.size(), &out);
    }
    elb_tally tally(View<const double> command) const {
        elb_tally out;
        check(elb_joint_tally(handle_, command.data(), command.size(), &out));
        return out;
    }

private:
    std::vector<double> pairs(elb_status (*call)(const elb_joint *, double *, std::size_t, std::size_t *)) const {
        std::size_t n = 0;
        check(call(handle_, nullptr, 0, &n));
        std::vector<double> out(2 * n);
        check(call(handle_, out.data(), n, &n));
        return out;
    }
    template <class I, class O>
    using Batch = elb_status (*)(const elb_joint *, const I *, std::size_t, O *, std::size_t *);
    template <class I, class O>
    elb_status try_batch(Batch<I, O> call, View<const I> in, View<O> out, std::size_t &done) const noexcept {
        if (in.size() != out.size()) return ELB_STATUS_LENGTH_MISMATCH;
        return call(handle_, in.data(), in.size(), out.data(), &done);
    }
    template <class I, class O> void batch(Batch<I, O> call, View<const I> in, View<O> out) const {
        std::size_t done = 0;
        same_size(in.size(), "values", out.size(), "places for results");
        const elb_status status = try_batch(call, in, out, done);
        if (status == ELB_STATUS_NOT_FINITE) fail_not_finite(done, static_cast<double>(in.data()[done]), "");
        check(status);
    }
    template <class I>
    elb_status try_back(elb_status (*call)(const elb_joint *, const I *, std::size_t, double *), View<const I> in,
                        View<double> out) const noexcept {
        return in.size() != out.size() ? ELB_STATUS_LENGTH_MISMATCH : call(handle_, in.data(), in.size(), out.data());
    }

    const elb_joint *handle_;
};

/// A joint that the program owns.
class Joint : public Owned<JointRef, elb_joint, elb_joint_free> {
public:
    using Owned::Owned;
    Joint() noexcept = default;
    explicit Joint(const elb_joint_config &config)
        : Owned(made<elb_joint>([&](elb_joint **out, elb_error *error) { return elb_joint_new(&config, out, error); })) {}
    [[nodiscard]] static Joint try_make(const elb_joint_config &config, elb_error &error) noexcept {
        return Joint(try_made<elb_joint>(
            error, [&](elb_joint **out, elb_error *told) { return elb_joint_new(&config, out, told); }));
    }

    static Joint clone(const JointRef &joint) {
        elb_joint *copy = nullptr;
        check(elb_joint_clone(joint.handle(), &copy));
        return Joint(copy);
    }
    /// Empty where `joint` is.
    [[nodiscard]] static Joint try_clone(const JointRef &joint) noexcept {
        elb_joint *copy = nullptr;
        return Joint(elb_joint_clone(joint.handle(), &copy) == ELB_STATUS_OK ? copy : nullptr);
    }
};

/// The readings that show a transmission alone, with the sides from which they were reached: ELB_APPROACH_...
struct BetweenStops {
    std::vector<double> drive, measured;
    std::vector<std::int8_t> approach;
};

/// Limits found from readings.
class Fit {
public:
    Fit() noexcept = default;
    /// Takes over a fit made by elbowroom.h.
    explicit Fit(elb_fit *owned) noexcept : owner_(owned) {}
    [[nodiscard]] static Fit try_make(const elb_readings &readings, const elb_fit_options *options, elb_error &error) noexcept {
        return Fit(try_made<elb_fit>(
            error, [&](elb_fit **out, elb_error *told) { return elb_fit_limits(&readings, options, out, told); }));
    }
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    explicit Fit(const elb_readings &readings) : Fit(readings, nullptr) {}
    Fit(const elb_readings &readings, const elb_fit_options &options) : Fit(readings, &options) {}
    const elb_fit *handle() const noexcept { return owner_.get(); }

    elb_fit_line line() const { return asked(elb_fit_line_of, handle()); }
    [[nodiscard]] elb_status try_line(elb_fit_line &out) const noexcept { return elb_fit_line_of(handle(), &out); }
    elb_fit_end lower() const { return end(ELB_SIDE_LOWER); }
    [[nodiscard]] elb_status try_lower(elb_fit_end &out) const noexcept {
        return elb_fit_end_of(handle(), ELB_SIDE_LOWER, &out);
    }
    elb_fit_end upper() const { return end(ELB_SIDE_UPPER); }
    [[nodiscard]] elb_status try_upper(elb_fit_end &out) const noexcept {
        return elb_fit_end_of(handle(), ELB_SIDE_UPPER, &out);
    }
    /// Throws ELB_STATUS_ABSENT when guard margin and uncertainty leave none.
    std::pair<double, double> travel() const { return asked(elb_fit_travel, handle()); }
    [[nodiscard]] elb_status try_travel(std::pair<double, double> &out) const noexcept {
        return elb_fit_travel(handle(), &out.first, &out.second);
    }
    /// Throws ELB_STATUS_ABSENT when it cannot be determined; lost_motion_text() says why.
    elb_lost_motion lost_motion() const { return asked(elb_fit_lost_motion, handle()); }
    [[nodiscard]] elb_status try_lost_motion(elb_lost_motion &out) const noexcept { return elb_fit_lost_motion(handle(), &out); }
    /// How far single readings scatter, and its degrees of freedom.
    std::pair<double, std::uint64_t> repeatability() const {
        std::pair<double, std::uint64_t> out{};
        check(elb_fit_repeatability(handle(), &out.first, &out.second));
        return out;
    }
    [[nodiscard]] elb_status try_repeatability(double &sd, std::uint64_t &dof) const noexcept {
        return elb_fit_repeatability(handle(), &sd, &dof);
    }
    /// The measured value that the fit expects at a drive angle.
    double expected(double drive) const { return asked(elb_fit_expected, handle(), drive); }
    [[nodiscard]] elb_status try_expected(double drive, double &out) const noexcept {
        return elb_fit_expected(handle(), drive, &out);
    }
    std::string lost_motion_text() const { return asked(elb_fit_lost_motion_text, handle()); }
    [[nodiscard]] elb_status try_lost_motion_text(const char *&out) const & noexcept {
        return elb_fit_lost_motion_text(handle(), &out);
    }
    elb_status try_lost_motion_text(const char *&) const && = delete;
    std::vector<elb_rejected> rejected() const {
        return all(asked(elb_fit_rejected_count, handle()), elb_fit_rejected, handle());
    }
    [[nodiscard]] elb_status try_rejected_count(std::size_t &out) const noexcept {
        return elb_fit_rejected_count(handle(), &out);
    }
    [[nodiscard]] elb_status try_rejected(std::size_t i, elb_rejected &out) const noexcept {
        return elb_fit_rejected(handle(), i, &out);
    }
    /// The word of the slip that would explain a rejected value; throws ELB_STATUS_ABSENT where none is known.
    std::string rejected_slip(std::size_t i) const { return asked(elb_fit_rejected_slip, handle(), i); }
    [[nodiscard]] elb_status try_rejected_slip(std::size_t i, const char *&out) const & noexcept {
        return elb_fit_rejected_slip(handle(), i, &out);
    }
    elb_status try_rejected_slip(std::size_t, const char *&) const && = delete;
    /// The resolution that it worked with, and whether the values' grid shows it. Throws ELB_STATUS_ABSENT without one.
    std::pair<double, bool> resolution() const {
        double resolution = 0;
        std::uint32_t inferred = 0;
        check(elb_fit_resolution(handle(), &resolution, &inferred));
        return {resolution, inferred != 0};
    }
    [[nodiscard]] elb_status try_resolution(double &out, bool &inferred) const noexcept {
        return try_said(inferred, [&](std::uint32_t *said) { return elb_fit_resolution(handle(), &out, said); });
    }
    /// Whether the order of the readings shows from which side each was reached, where it is not known.
    bool approach_inferred() const { return asked(elb_fit_approach_inferred, handle()) != 0; }
    [[nodiscard]] elb_status try_approach_inferred(bool &out) const noexcept {
        return try_said(out, [&](std::uint32_t *said) { return elb_fit_approach_inferred(handle(), said); });
    }
    /// Which readings to take next; throws ELB_STATUS_ABSENT where both ends are proven clear.
    elb_advice advice() const { return asked(elb_fit_advice, handle()); }
    [[nodiscard]] elb_status try_advice(elb_advice &out) const noexcept { return elb_fit_advice(handle(), &out); }
    std::vector<elb_next_reading> next_readings() const { return all(advice().readings, elb_fit_next_reading, handle()); }
    /// One of advice().readings.
    [[nodiscard]] elb_status try_next_readings(std::size_t i, elb_next_reading &out) const noexcept {
        return elb_fit_next_reading(handle(), i, &out);
    }
    std::vector<std::string> warnings() const {
        const auto texts = all(asked(elb_fit_warning_count, handle()), elb_fit_warning, handle());
        return {texts.begin(), texts.end()};
    }
    [[nodiscard]] elb_status try_warnings_count(std::size_t &out) const noexcept { return elb_fit_warning_count(handle(), &out); }
    [[nodiscard]] elb_status try_warnings(std::size_t i, const char *&out) const & noexcept {
        return elb_fit_warning(handle(), i, &out);
    }
    elb_status try_warnings(std::size_t, const char *&) const && = delete;
    /// The readings that show the transmission alone, for Curve, Linkage and Choice.
    BetweenStops between_stops(const elb_readings &readings) const {
        BetweenStops between{std::vector<double>(readings.n), std::vector<double>(readings.n),
                             std::vector<std::int8_t>(readings.n)};
        std::size_t n = 0;
        elb_error error;
        if (elb_fit_between_stops(handle(), &readings, between.drive.data(), between.measured.data(), between.approach.data(), &n,
                                  &error) != ELB_STATUS_OK) {
            fail(Error(error));
        }
        between.drive.resize(n);
        between.measured.resize(n);
        between.approach.resize(n);
        return between;
    }
    /// Into three arrays with room for all readings; `n` is how many there are.
    [[nodiscard]] elb_status try_between_stops(const elb_readings &readings, View<double> drive, View<double> measured,
                                               View<std::int8_t> approach, std::size_t &n,
                                               elb_error *error = nullptr) const noexcept {
        const auto lacks = [&](std::size_t room) { return room < readings.n; };
        if (lacks(drive.size()) || lacks(measured.size()) || lacks(approach.size())) return refused(ELB_STATUS_NO_ROOM, error);
        return elb_fit_between_stops(handle(), &readings, drive.data(), measured.data(), approach.data(), &n, error);
    }

private:
    Fit(const elb_readings &readings, const elb_fit_options *options) {
        elb_fit *fit = nullptr;
        elb_error error;
        if (elb_fit_limits(&readings, options, &fit, &error) != ELB_STATUS_OK) fail(Error(error));
        owner_.reset(fit);
    }
    elb_fit_end end(std::uint32_t side) const { return asked(elb_fit_end_of, handle(), side); }
    [[nodiscard]] elb_status try_end(std::uint32_t side, elb_fit_end &out) const noexcept {
        return elb_fit_end_of(handle(), side, &out);
    }
    Owner<elb_fit, elb_fit_free> owner_;
};

/// What became of each joint of fit_many: a fit, or a status and its sentence.
struct FitOutcome {
    Fit fit;
    elb_status status = ELB_STATUS_OK;
    std::string message;
};

/// Fits many joints; one that fails does not affect the others.
inline std::vector<FitOutcome> fit_many(View<const elb_readings> readings, const elb_fit_options *options = nullptr) {
    const std::size_t n = readings.size();
    std::vector<const elb_readings *> each(n);
    for (std::size_t i = 0; i < n; i++) each[i] = readings.data() + i;
    std::vector<elb_fit *> fits(n, nullptr);
    std::vector<elb_status> statuses(n, ELB_STATUS_OK);
    std::vector<elb_error> errors(n);
    std::vector<FitOutcome> out(n);
    elb_error error;
    if (elb_fit_many(each.data(), n, options, fits.data(), statuses.data(), errors.data(), &error) != ELB_STATUS_OK) {
        fail(Error(error));
    }
    for (std::size_t i = 0; i < n; i++) out[i].fit = Fit(fits[i]);
    for (std::size_t i = 0; i < n; i++) {
        out[i].status = statuses[i];
        if (statuses[i] != ELB_STATUS_OK) out[i].message = errors[i].message;
    }
    return out;
}
/// The same into the caller's arrays, all of one length; the fits are to be owned: Fit(fits[i]).
[[nodiscard]] inline elb_status try_fit_many(View<const elb_readings *const> readings, const elb_fit_options *options,
                                             View<elb_fit *> fits, View<elb_status> statuses, View<elb_error> errors,
                                             elb_error *error = nullptr) noexcept {
    const std::size_t n = readings.size();
    if (fits.size() != n || statuses.size() != n || errors.size() != n) return refused(ELB_STATUS_LENGTH_MISMATCH, error);
    return elb_fit_many(readings.data(), n, options, fits.data(), statuses.data(), errors.data(), error);
}

/// A straight line through points.
class LineRef {
public:
    explicit LineRef(const elb_line *handle) noexcept : handle_(handle) {}
    explicit operator bool() const noexcept { return handle_ != nullptr; }
    const elb_line *handle() const noexcept { return handle_; }

    elb_line_values values() const { return asked(elb_line_values_of, handle_); }
    [[nodiscard]] elb_status try_values(elb_line_values &out) const noexcept { return elb_line_values_of(handle_, &out); }
    elb_estimate predict(double x, double u_x = 0) const {
        elb_estimate out;
        check(elb_line_predict(handle_, x, u_x, &out));
        return out;
    }
    [[nodiscard]] elb_status try_predict(double x, double u_x, elb_estimate &out) const noexcept {
        return elb_line_predict(handle_, x, u_x, &out);
    }
    /// Throws ELB_STATUS_ABSENT where the observations do not determine x.
    elb_estimate inverse(View<const double> observed, double u_y = 0) const {
        elb_estimate out;
        check(elb_line_inverse(handle_, observed.data(), observed.size(), u_y, &out));
        return out;
    }
    [[nodiscard]] elb_status try_inverse(View<const double> observed, double u_y, elb_estimate &out) const noexcept {
        return elb_line_inverse(handle_, observed.data(), observed.size(), u_y, &out);
    }
    double coverage_factor(double confidence) const { return asked(elb_line_coverage_factor, handle_, confidence); }
    [[nodiscard]] elb_status try_coverage_factor(double confidence, double &out) const noexcept {
        return elb_line_coverage_factor(handle_, confidence, &out);
    }

private:
    const elb_line *handle_;
};

/// Fits what a sensor reads at joint angles and puts the map into a joint's config, which points to `knots` afterwards unless the
/// map is straight: keep them as long as it is used. `lower` and `upper` are the joint angles of the joint's command ends.
inline elb_feedback_values fit_feedback(View<const double> reading, View<const double> angle, double lower, double upper,
                                        elb_joint_config &config, std::vector<double> &knots,
                                        std::size_t most_knots = ELB_MOST_KNOTS) {
    elb_feedback_values values;
    elb_error error;
    knots.resize(2 * ELB_MOST_JOINT_KNOTS);
    if (elb_fit_feedback(reading.data(), angle.data(), same_size(reading.size(), "readings", angle.size(), "angles"), most_knots, lower, upper,
                         &config, knots.data(), ELB_MOST_JOINT_KNOTS, &values, &error) != ELB_STATUS_OK) {
        fail(Error(error));
    }
    return values;
}
/// The same with the caller's room for ELB_MOST_JOINT_KNOTS pairs of knots.
[[nodiscard]] inline elb_status try_fit_feedback(View<const double> reading, View<const double> angle, double lower, double upper,
                                                 elb_joint_config &config, View<double> knots, elb_feedback_values &out,
                                                 std::size_t most_knots = ELB_MOST_KNOTS, elb_error *error = nullptr) noexcept {
    if (reading.size() != angle.size()) return refused(ELB_STATUS_LENGTH_MISMATCH, error);
    return elb_fit_feedback(reading.data(), angle.data(), reading.size(), most_knots, lower, upper, &config, knots.data(),
                            knots.size() / 2, &out, error);
}

/// A curve through readings.
class CurveRef {
public:
    explicit CurveRef(const elb_curve *handle) noexcept : handle_(handle) {}
    explicit operator bool() const noexcept { return handle_ != nullptr; }
    const elb_curve *handle() const noexcept { return handle_; }

    elb_curve_values values() const { return asked(elb_curve_values_of, handle_); }
    [[nodiscard]] elb_status try_values(elb_curve_values &out) const noexcept { return elb_curve_values_of(handle_, &out); }
    std::vector<elb_curve_knot> knots() const { return all(values().n_knots, elb_curve_knot_at, handle_); }
    /// One of values().n_knots, and of values().n_tried.
    [[nodiscard]] elb_status try_knots(std::size_t i, elb_curve_knot &out) const noexcept {
        return elb_curve_knot_at(handle_, i, &out);
    }
    std::vector<double> criterion() const { return all(values().n_tried, elb_curve_criterion, handle_); }
    [[nodiscard]] elb_status try_criterion(std::size_t i, double &out) const noexcept {
        return elb_curve_criterion(handle_, i, &out);
    }
    double expected(double drive) const { return asked(elb_curve_expected, handle_, drive); }
    [[nodiscard]] elb_status try_expected(double drive, double &out) const noexcept {
        return elb_curve_expected(handle_, drive, &out);
    }
    /// From one side: ELB_APPROACH_...
    double expected(double drive, std::int8_t approach) const {
        double value = 0;
        check(elb_curve_expected_from(handle_, drive, approach, &value));
        return value;
    }
    [[nodiscard]] elb_status try_expected(double drive, std::int8_t approach, double &out) const noexcept {
        return elb_curve_expected_from(handle_, drive, approach, &out);
    }
    /// Throws ELB_STATUS_ABSENT where the readings do not show it.
    elb_lost_motion lost_motion() const { return asked(elb_curve_lost_motion, handle_); }
    [[nodiscard]] elb_status try_lost_motion(elb_lost_motion &out) const noexcept { return elb_curve_lost_motion(handle_, &out); }
    /// Puts the curve into a joint's config, which points to `knots` afterwards: keep them as long as it is used. Returns the
    /// most by which the joint departs from the curve.
    double joint(double lower, double upper, elb_joint_config &config, std::vector<double> &knots) const {
        double departure = 0;
        elb_error error;
        knots.resize(2 * ELB_MOST_JOINT_KNOTS);
        if (elb_curve_joint(handle_, lower, upper, &config, knots.data(), ELB_MOST_JOINT_KNOTS, &departure, &error) !=
            ELB_STATUS_OK) {
            fail(Error(error));
        }
        return departure;
    }
    /// The same with the caller's room for ELB_MOST_JOINT_KNOTS pairs of knots.
    [[nodiscard]] elb_status try_joint(double lower, double upper, elb_joint_config &config, View<double> knots, double &departure,
                                       elb_error *error = nullptr) const noexcept {
        return elb_curve_joint(handle_, lower, upper, &config, knots.data(), knots.size() / 2, &departure, error);
    }

private:
    const elb_curve *handle_;
};

/// A linkage whose dimensions were found from readings.
class LinkageRef {
public:
    explicit LinkageRef(const elb_linkage *handle) noexcept : handle_(handle) {}
    explicit operator bool() const noexcept { return handle_ != nullptr; }
    const elb_linkage *handle() const noexcept { return handle_; }

    elb_linkage_values values() const { return asked(elb_linkage_values_of, handle_); }
    [[nodiscard]] elb_status try_values(elb_linkage_values &out) const noexcept { return elb_linkage_values_of(handle_, &out); }
    elb_mechanism mechanism() const { return asked(elb_linkage_mechanism, handle_); }
    [[nodiscard]] elb_status try_mechanism(elb_mechanism &out) const noexcept { return elb_linkage_mechanism(handle_, &out); }
    /// Their names live as long as the linkage.
    std::vector<elb_dimension> dimensions() const { return all(values().n_found, elb_linkage_dimension, handle_); }
    /// One of values().n_found.
    [[nodiscard]] elb_status try_dimensions(std::size_t i, elb_dimension &out) const noexcept {
        return elb_linkage_dimension(handle_, i, &out);
    }
    double expected(double drive) const { return asked(elb_linkage_expected, handle_, drive); }
    [[nodiscard]] elb_status try_expected(double drive, double &out) const noexcept {
        return elb_linkage_expected(handle_, drive, &out);
    }
    /// From one side: ELB_APPROACH_...
    double expected(double drive, std::int8_t approach) const {
        double value = 0;
        check(elb_linkage_expected_from(handle_, drive, approach, &value));
        return value;
    }
    [[nodiscard]] elb_status try_expected(double drive, std::int8_t approach, double &out) const noexcept {
        return elb_linkage_expected_from(handle_, drive, approach, &out);
    }
    /// Throws ELB_STATUS_ABSENT where the readings do not show it.
    elb_lost_motion lost_motion() const { return asked(elb_linkage_lost_motion, handle_); }
    [[nodiscard]] elb_status try_lost_motion(elb_lost_motion &out) const noexcept {
        return elb_linkage_lost_motion(handle_, &out);
    }
    /// Both throw ELB_STATUS_ABSENT where the readings exclude the other branch, or this linkage has none.
    elb_other_branch other_branch() const { return asked(elb_linkage_other_branch, handle_); }
    [[nodiscard]] elb_status try_other_branch(elb_other_branch &out) const noexcept {
        return elb_linkage_other_branch(handle_, &out);
    }
    std::string other_branch_text() const { return asked(elb_linkage_other_branch_text, handle_); }
    [[nodiscard]] elb_status try_other_branch_text(const char *&out) const noexcept {
        return elb_linkage_other_branch_text(handle_, &out);
    }
    double drive(double measured) const { return asked(elb_linkage_drive, handle_, measured); }
    [[nodiscard]] elb_status try_drive(double measured, double &out) const noexcept {
        return elb_linkage_drive(handle_, measured, &out);
    }
    /// The commands that the readings stand for.
    std::pair<double, double> command() const { return asked(elb_linkage_command, handle_); }
    [[nodiscard]] elb_status try_command(std::pair<double, double> &out) const noexcept {
        return elb_linkage_command(handle_, &out.first, &out.second);
    }
    /// Which of the stops that a fit of these readings names may be a dead centre and not a stop: lower, upper.
    std::pair<bool, bool> explains_stops(const Fit &fit, const elb_readings &readings) const {
        std::uint32_t lower = 0, upper = 0;
        elb_error error;
        if (elb_linkage_explains_stops(handle_, fit.handle(), &readings, &lower, &upper, &error) != ELB_STATUS_OK) {
            fail(Error(error));
        }
        return {lower != 0, upper != 0};
    }
    [[nodiscard]] elb_status try_explains_stops(const Fit &fit, const elb_readings &readings, bool &lower, bool &upper,
                                                elb_error *error = nullptr) const noexcept {
        std::uint32_t said[2] = {0, 0};
        const elb_status status = elb_linkage_explains_stops(handle_, fit.handle(), &readings, &said[0], &said[1], error);
        if (status == ELB_STATUS_OK) lower = said[0] != 0, upper = said[1] != 0;
        return status;
    }
    /// Puts the linkage into a joint's config.
    void joint(double lower, double upper, elb_joint_config &config) const {
        elb_error error;
        if (elb_linkage_joint(handle_, lower, upper, &config, &error) != ELB_STATUS_OK) fail(Error(error));
    }
    [[nodiscard]] elb_status try_joint(double lower, double upper, elb_joint_config &config,
                                       elb_error *error = nullptr) const noexcept {
        return elb_linkage_joint(handle_, lower, upper, &config, error);
    }

private:
    const elb_linkage *handle_;
};

/// The same, owned by the program.
class Line : public Owned<LineRef, elb_line, elb_line_free> {
public:
    using Owned::Owned;
    Line() noexcept = default;
    Line(View<const double> x, View<const double> y) : Line(x, y, {nullptr, 0}, {nullptr, 0}) {}
    Line(View<const double> x, View<const double> y, View<const double> u_y) : Line(x, y, {nullptr, 0}, u_y) {}
    /// Standard uncertainties of both; a view of nothing: not known.
    Line(View<const double> x, View<const double> y, View<const double> u_x, View<const double> u_y)
        : Line(made<elb_line>([&](elb_line **out, elb_error *error) {
              const std::size_t n = same_size(x.size(), "values of x", y.size(), "values of y");
              for (const auto &u : {u_x, u_y}) {
                  if (u.data() != nullptr) same_size(u.size(), "uncertainties", n, "values");
              }
              return elb_line_new(x.data(), y.data(), u_x.data(), u_y.data(), n, out, error);
          })) {}
    [[nodiscard]] static Line try_make(View<const double> x, View<const double> y, View<const double> u_x, View<const double> u_y,
                                       elb_error &error) noexcept {
        if (!fit_together(x.size(), y.size(), u_x.data(), u_x.size()) ||
            !fit_together(x.size(), y.size(), u_y.data(), u_y.size())) {
            refused(ELB_STATUS_LENGTH_MISMATCH, &error);
            return Line();
        }
        return Line(try_made<elb_line>(error, [&](elb_line **out, elb_error *told) {
            return elb_line_new(x.data(), y.data(), u_x.data(), u_y.data(), x.size(), out, told);
        }));
    }
};

class Curve : public Owned<CurveRef, elb_curve, elb_curve_free> {
public:
    using Owned::Owned;
    Curve() noexcept = default;
    /// Without `approach` lost motion counts as scatter.
    Curve(View<const double> drive, View<const double> measured, std::size_t most_knots = ELB_MOST_KNOTS,
          View<const std::int8_t> approach = {nullptr, 0})
        : Curve(made<elb_curve>([&](elb_curve **out, elb_error *error) {
              const std::size_t n = sided(drive, measured, approach);
              return elb_curve_new(drive.data(), measured.data(), approach.data(), n, most_knots, out, error);
          })) {}
    Curve(const BetweenStops &between, std::size_t most_knots = ELB_MOST_KNOTS)
        : Curve(between.drive, between.measured, most_knots, between.approach) {}
    [[nodiscard]] static Curve try_make(View<const double> drive, View<const double> measured, std::size_t most_knots,
                                        View<const std::int8_t> approach, elb_error &error) noexcept {
        if (!fit_together(drive.size(), measured.size(), approach.data(), approach.size())) {
            refused(ELB_STATUS_LENGTH_MISMATCH, &error);
            return Curve();
        }
        return Curve(try_made<elb_curve>(error, [&](elb_curve **out, elb_error *told) {
            return elb_curve_new(drive.data(), measured.data(), approach.data(), drive.size(), most_knots, out, told);
        }));
    }
};

class Linkage : public Owned<LinkageRef, elb_linkage, elb_linkage_free> {
public:
    using Owned::Owned;
    Linkage() noexcept = default;
    /// Without `approach` lost motion counts as scatter.
    Linkage(View<const double> drive, View<const double> measured, const elb_mechanism &start,
            View<const std::int8_t> approach = {nullptr, 0})
        : Linkage(made<elb_linkage>([&](elb_linkage **out, elb_error *error) {
              const std::size_t n = sided(drive, measured, approach);
              return elb_linkage_new(drive.data(), measured.data(), approach.data(), n, &start, out, error);
          })) {}
    Linkage(const BetweenStops &between, const elb_mechanism &start)
        : Linkage(between.drive, between.measured, start, between.approach) {}
    [[nodiscard]] static Linkage try_make(View<const double> drive, View<const double> measured, const elb_mechanism &start,
                                          View<const std::int8_t> approach, elb_error &error) noexcept {
        if (!fit_together(drive.size(), measured.size(), approach.data(), approach.size())) {
            refused(ELB_STATUS_LENGTH_MISMATCH, &error);
            return Linkage();
        }
        return Linkage(try_made<elb_linkage>(error, [&](elb_linkage **out, elb_error *told) {
            return elb_linkage_new(drive.data(), measured.data(), approach.data(), drive.size(), &start, out, told);
        }));
    }
};

/// Which transmission fits readings best, and why. What it hands out lives as long as it does.
class Choice {
public:
    Choice() noexcept = default;
    /// Takes over what elbowroom_analysis.h made.
    explicit Choice(elb_choice *owned) noexcept : owner_(owned) {}
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    const elb_choice *handle() const noexcept { return owner_.get(); }
    /// Without `approach` lost motion counts as scatter.
    Choice(View<const double> drive, View<const double> measured, View<const elb_mechanism> guesses,
           std::size_t most_knots = ELB_MOST_KNOTS, View<const std::int8_t> approach = {nullptr, 0})
        : owner_(made<elb_choice>([&](elb_choice **out, elb_error *error) {
              const std::size_t n = sided(drive, measured, approach);
              return elb_choice_new(drive.data(), measured.data(), approach.data(), n, guesses.data(), guesses.size(), most_knots,
                                    out, error);
          })) {}
    Choice(const BetweenStops &between, View<const elb_mechanism> guesses, std::size_t most_knots = ELB_MOST_KNOTS)
        : Choice(between.drive, between.measured, guesses, most_knots, between.approach) {}
    [[nodiscard]] static Choice try_make(View<const double> drive, View<const double> measured,
                                         View<const elb_mechanism> guesses, std::size_t most_knots,
                                         View<const std::int8_t> approach, elb_error &error) noexcept {
        if (!fit_together(drive.size(), measured.size(), approach.data(), approach.size())) {
            refused(ELB_STATUS_LENGTH_MISMATCH, &error);
            return Choice();
        }
        return Choice(try_made<elb_choice>(error, [&](elb_choice **out, elb_error *told) {
            return elb_choice_new(drive.data(), measured.data(), approach.data(), drive.size(), guesses.data(), guesses.size(),
                                  most_knots, out, told);
        }));
    }

    std::size_t best() const { return asked(elb_choice_best, handle()); }
    [[nodiscard]] elb_status try_best(std::size_t &out) const noexcept { return elb_choice_best(handle(), &out); }
    /// The line, the curve, then the guesses.
    std::vector<elb_candidate> candidates() const {
        return all(asked(elb_choice_count, handle()), elb_choice_candidate, handle());
    }
    [[nodiscard]] elb_status try_candidates_count(std::size_t &out) const noexcept { return elb_choice_count(handle(), &out); }
    [[nodiscard]] elb_status try_candidates(std::size_t i, elb_candidate &out) const noexcept {
        return elb_choice_candidate(handle(), i, &out);
    }
    std::vector<std::string> reasons() const {
        const auto texts = all(asked(elb_choice_reason_count, handle()), elb_choice_reason, handle());
        return {texts.begin(), texts.end()};
    }
    [[nodiscard]] elb_status try_reasons_count(std::size_t &out) const noexcept {
        return elb_choice_reason_count(handle(), &out);
    }
    [[nodiscard]] elb_status try_reasons(std::size_t i, const char *&out) const & noexcept {
        return elb_choice_reason(handle(), i, &out);
    }
    elb_status try_reasons(std::size_t, const char *&) const && = delete;
    /// Throws ELB_STATUS_ABSENT where the readings do not show it.
    elb_lost_motion lost_motion(std::size_t i) const { return asked(elb_choice_lost_motion, handle(), i); }
    [[nodiscard]] elb_status try_lost_motion(std::size_t i, elb_lost_motion &out) const noexcept {
        return elb_choice_lost_motion(handle(), i, &out);
    }
    /// Of candidate `i`; each throws ELB_STATUS_ABSENT for one of another kind.
    LineRef line(std::size_t i) const & { return LineRef(asked(elb_choice_line, handle(), i)); }
    LineRef line(std::size_t) const && = delete;
    [[nodiscard]] elb_status try_line(std::size_t i, LineRef &out) const & noexcept {
        const elb_line *found = nullptr;
        const elb_status status = elb_choice_line(handle(), i, &found);
        if (status == ELB_STATUS_OK) out = LineRef(found);
        return status;
    }
    elb_status try_line(std::size_t, LineRef &) const && = delete;
    CurveRef curve(std::size_t i) const & { return CurveRef(asked(elb_choice_curve, handle(), i)); }
    CurveRef curve(std::size_t) const && = delete;
    [[nodiscard]] elb_status try_curve(std::size_t i, CurveRef &out) const & noexcept {
        const elb_curve *found = nullptr;
        const elb_status status = elb_choice_curve(handle(), i, &found);
        if (status == ELB_STATUS_OK) out = CurveRef(found);
        return status;
    }
    elb_status try_curve(std::size_t, CurveRef &) const && = delete;
    LinkageRef linkage(std::size_t i) const & { return LinkageRef(asked(elb_choice_linkage, handle(), i)); }
    LinkageRef linkage(std::size_t) const && = delete;
    [[nodiscard]] elb_status try_linkage(std::size_t i, LinkageRef &out) const & noexcept {
        const elb_linkage *found = nullptr;
        const elb_status status = elb_choice_linkage(handle(), i, &found);
        if (status == ELB_STATUS_OK) out = LinkageRef(found);
        return status;
    }
    elb_status try_linkage(std::size_t, LinkageRef &) const && = delete;

private:
    Owner<elb_choice, elb_choice_free> owner_;
};

/// A value that follows its target by bounded steps.
class Ramp {
public:
    Ramp() noexcept = default;
    /// Takes over a ramp made by elbowroom.h.
    explicit Ramp(elb_ramp *owned) noexcept : owner_(owned) {}
    /// 0 for the acceleration: not bounded.
    Ramp(double start, double max_rate_per_s, double acceleration_per_s2, double cycles_hz)
        : owner_(made<elb_ramp>([&](elb_ramp **out, elb_error *error) {
              return elb_ramp_new(start, max_rate_per_s, acceleration_per_s2, cycles_hz, out, error);
          })) {}
    [[nodiscard]] static Ramp try_make(double start, double max_rate_per_s, double acceleration_per_s2, double cycles_hz,
                                       elb_error &error) noexcept {
        return Ramp(try_made<elb_ramp>(error, [&](elb_ramp **out, elb_error *told) {
            return elb_ramp_new(start, max_rate_per_s, acceleration_per_s2, cycles_hz, out, told);
        }));
    }
    static Ramp per_cycle(double start, double most_step, double most_change) {
        return Ramp(made<elb_ramp>([&](elb_ramp **out, elb_error *error) {
            return elb_ramp_per_cycle(start, most_step, most_change, out, error);
        }));
    }
    [[nodiscard]] static Ramp try_per_cycle(double start, double most_step, double most_change, elb_error &error) noexcept {
        return Ramp(try_made<elb_ramp>(error, [&](elb_ramp **out, elb_error *told) {
            return elb_ramp_per_cycle(start, most_step, most_change, out, told);
        }));
    }
    /// Of one joint's commands: targets are held to its range and travel first, and a `start` beyond comes in from there. 0 for the rate:
    /// the joint's own.
    static Ramp of_joint(const JointRef &joint, double start, double max_rate_per_s, double acceleration_per_s2, double cycles_hz) {
        return Ramp(made<elb_ramp>([&](elb_ramp **out, elb_error *error) {
            return elb_ramp_of_joint(joint.handle(), start, max_rate_per_s, acceleration_per_s2, cycles_hz, out, error);
        }));
    }
    [[nodiscard]] static Ramp try_of_joint(const JointRef &joint, double start, double max_rate_per_s, double acceleration_per_s2,
                                           double cycles_hz, elb_error &error) noexcept {
        return Ramp(try_made<elb_ramp>(error, [&](elb_ramp **out, elb_error *told) {
            return elb_ramp_of_joint(joint.handle(), start, max_rate_per_s, acceleration_per_s2, cycles_hz, out, told);
        }));
    }
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    const elb_ramp *handle() const noexcept { return owner_.get(); }

    /// One step, in each cycle of the loop.
    double follow(double target) {
        double out = 0;
        check(try_follow(target, out));
        return out;
    }
    [[nodiscard]] elb_status try_follow(double target, double &out) noexcept {
        return elb_ramp_follow(owner_.get(), target, &out);
    }
    /// The same with what held the target back.
    elb_conversion step(double target) {
        elb_conversion out;
        check(try_step(target, out));
        return out;
    }
    [[nodiscard]] elb_status try_step(double target, elb_conversion &out) noexcept {
        return elb_ramp_step(owner_.get(), target, &out);
    }
    /// Stands still at a value again, with the same limits.
    void reset(double start) { check(try_reset(start)); }
    [[nodiscard]] elb_status try_reset(double start) noexcept { return elb_ramp_reset(owner_.get(), start); }
    /// Other limits from the next step on. 0 for the acceleration: not bounded.
    void limit(double max_rate_per_s, double acceleration_per_s2, double cycles_hz) {
        elb_error error;
        if (try_limit(max_rate_per_s, acceleration_per_s2, cycles_hz, error) != ELB_STATUS_OK) fail(Error(error));
    }
    [[nodiscard]] elb_status try_limit(double max_rate_per_s, double acceleration_per_s2, double cycles_hz, elb_error &error) noexcept {
        return elb_ramp_limit(owner_.get(), max_rate_per_s, acceleration_per_s2, cycles_hz, &error);
    }
    /// The range and the travel of another joint, and other limits, from the next step on. 0 for the rate: the joint's own.
    void change_joint(const JointRef &joint, double max_rate_per_s, double acceleration_per_s2, double cycles_hz) {
        elb_error error;
        if (try_change_joint(joint, max_rate_per_s, acceleration_per_s2, cycles_hz, error) != ELB_STATUS_OK) fail(Error(error));
    }
    [[nodiscard]] elb_status try_change_joint(const JointRef &joint, double max_rate_per_s, double acceleration_per_s2, double cycles_hz,
                                              elb_error &error) noexcept {
        return elb_ramp_change_joint(owner_.get(), joint.handle(), max_rate_per_s, acceleration_per_s2, cycles_hz, &error);
    }
    double value() const { return asked(elb_ramp_value, handle()); }
    [[nodiscard]] elb_status try_value(double &out) const noexcept { return elb_ramp_value(handle(), &out); }
    bool rests_at(double target) const { return asked(elb_ramp_rests_at, handle(), target) != 0; }
    [[nodiscard]] elb_status try_rests_at(double target, bool &out) const noexcept {
        return try_said(out, [&](std::uint32_t *said) { return elb_ramp_rests_at(handle(), target, said); });
    }

private:
    Owner<elb_ramp, elb_ramp_free> owner_;
};

/// Whether a joint follows its commands, at each tick of a control loop.
class FollowCheck {
public:
    FollowCheck() noexcept = default;
    /// Takes over a check made by elbowroom.h.
    explicit FollowCheck(elb_follow_check *owned) noexcept : owner_(owned) {}
    /// Begins with a joint that stands still at `start`; the limits are those of elb_follow_check_new.
    FollowCheck(double start, double tolerance, double lag_cycles, std::uint32_t most_cycles)
        : owner_(made<elb_follow_check>([&](elb_follow_check **out, elb_error *error) {
              return elb_follow_check_new(start, tolerance, lag_cycles, most_cycles, out, error);
          })) {}
    [[nodiscard]] static FollowCheck try_make(double start, double tolerance, double lag_cycles, std::uint32_t most_cycles,
                                              elb_error &error) noexcept {
        return FollowCheck(try_made<elb_follow_check>(error, [&](elb_follow_check **out, elb_error *told) {
            return elb_follow_check_new(start, tolerance, lag_cycles, most_cycles, out, told);
        }));
    }
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    const elb_follow_check *handle() const noexcept { return owner_.get(); }

    /// In each cycle of the loop, with the command sent and where the joint was measured.
    elb_following tick(double command, double measured) {
        elb_following out;
        check(try_tick(command, measured, out));
        return out;
    }
    [[nodiscard]] elb_status try_tick(double command, double measured, elb_following &out) noexcept {
        return elb_follow_check_tick(owner_.get(), command, measured, &out);
    }
    /// The same with a reading of the joint's sensor.
    elb_following tick_reading(const JointRef &joint, double command, double reading) {
        elb_following out;
        check(try_tick_reading(joint, command, reading, out));
        return out;
    }
    [[nodiscard]] elb_status try_tick_reading(const JointRef &joint, double command, double reading, elb_following &out) noexcept {
        return elb_follow_check_tick_reading(owner_.get(), joint.handle(), command, reading, &out);
    }
    /// Between which commands the joint is expected after the last tick, without the tolerance.
    std::pair<double, double> expected() const { return asked(elb_follow_check_expected, handle()); }
    [[nodiscard]] elb_status try_expected(std::pair<double, double> &out) const noexcept {
        return elb_follow_check_expected(handle(), &out.first, &out.second);
    }
    /// Begins again with a joint that stands still, with the same limits.
    void reset(double start) { check(try_reset(start)); }
    [[nodiscard]] elb_status try_reset(double start) noexcept { return elb_follow_check_reset(owner_.get(), start); }

private:
    Owner<elb_follow_check, elb_follow_check_free> owner_;
};

/// The options of a comparison, with their size and defaults set.
inline elb_compare_options compare_options() {
    elb_compare_options options;
    check(elb_compare_options_init(&options, sizeof options));
    return options;
}
[[nodiscard]] inline elb_status try_compare_options(elb_compare_options &out) noexcept {
    return elb_compare_options_init(&out, sizeof out);
}

/// What changed from one fit of a joint to a later one.
class Comparison {
public:
    Comparison() noexcept = default;
    /// Takes over what elbowroom_analysis.h made.
    explicit Comparison(elb_comparison *owned) noexcept : owner_(owned) {}
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    const elb_comparison *handle() const noexcept { return owner_.get(); }
    Comparison(const Fit &before, const Fit &after) : Comparison(before, after, nullptr) {}
    Comparison(const Fit &before, const Fit &after, const elb_compare_options &options)
        : Comparison(before, after, &options) {}
    [[nodiscard]] static Comparison try_make(const Fit &before, const Fit &after, const elb_compare_options *options,
                                             elb_error &error) noexcept {
        return Comparison(try_made<elb_comparison>(error, [&](elb_comparison **out, elb_error *told) {
            return elb_fit_compare(before.handle(), after.handle(), options, out, told);
        }));
    }
    /// Whether something changed that matters.
    bool is_changed() const { return asked(elb_comparison_is_changed, handle()) != 0; }
    [[nodiscard]] elb_status try_is_changed(bool &out) const noexcept {
        return try_said(out, [&](std::uint32_t *said) { return elb_comparison_is_changed(handle(), said); });
    }
    /// Of one quantity, ELB_QUANTITY_…; throws ELB_STATUS_ABSENT where it cannot be determined.
    elb_change change(std::uint32_t quantity) const { return asked(elb_comparison_change, handle(), quantity); }
    [[nodiscard]] elb_status try_change(std::uint32_t quantity, elb_change &out) const noexcept {
        return elb_comparison_change(handle(), quantity, &out);
    }
    std::vector<elb_diagnosis> diagnoses() const & {
        return all(asked(elb_comparison_diagnosis_count, handle()), elb_comparison_diagnosis, handle());
    }
    std::vector<elb_diagnosis> diagnoses() const && = delete;
    [[nodiscard]] elb_status try_diagnoses_count(std::size_t &out) const noexcept {
        return elb_comparison_diagnosis_count(handle(), &out);
    }
    [[nodiscard]] elb_status try_diagnoses(std::size_t i, elb_diagnosis &out) const & noexcept {
        return elb_comparison_diagnosis(handle(), i, &out);
    }
    elb_status try_diagnoses(std::size_t, elb_diagnosis &) const && = delete;
    /// All whole numbers of spline teeth that agree with a shifted offset, the closest first.
    std::vector<elb_spline_teeth> teeth() const {
        return all(asked(elb_comparison_teeth_count, handle()), elb_comparison_teeth, handle());
    }
    [[nodiscard]] elb_status try_teeth_count(std::size_t &out) const noexcept {
        return elb_comparison_teeth_count(handle(), &out);
    }
    [[nodiscard]] elb_status try_teeth(std::size_t i, elb_spline_teeth &out) const noexcept {
        return elb_comparison_teeth(handle(), i, &out);
    }
    /// Warnings of both fits; the texts live as long as the comparison.
    std::vector<elb_table_warning> warnings() const & {
        return all(asked(elb_comparison_warning_count, handle()), elb_comparison_warning, handle());
    }
    std::vector<elb_table_warning> warnings() const && = delete;
    [[nodiscard]] elb_status try_warnings_count(std::size_t &out) const noexcept {
        return elb_comparison_warning_count(handle(), &out);
    }
    [[nodiscard]] elb_status try_warnings(std::size_t i, elb_table_warning &out) const & noexcept {
        return elb_comparison_warning(handle(), i, &out);
    }
    elb_status try_warnings(std::size_t, elb_table_warning &) const && = delete;

private:
    Comparison(const Fit &before, const Fit &after, const elb_compare_options *options) {
        elb_comparison *made = nullptr;
        elb_error error;
        if (elb_fit_compare(before.handle(), after.handle(), options, &made, &error) != ELB_STATUS_OK) fail(Error(error));
        owner_.reset(made);
    }
    Owner<elb_comparison, elb_comparison_free> owner_;
};

/// What a bring-up is to start from, with its size and defaults set.
inline elb_session_config session_config() {
    elb_session_config config;
    check(elb_session_config_init(&config, sizeof config));
    return config;
}
[[nodiscard]] inline elb_status try_session_config(elb_session_config &out) noexcept {
    return elb_session_config_init(&out, sizeof out);
}

/// Takes what an earlier fit found into a plan, so that the bring-up can tell what has changed since.
inline void know(elb_session_config &config, const Fit &before) {
    check(elb_session_config_set_baseline(&config, before.handle()));
}
[[nodiscard]] inline elb_status try_know(elb_session_config &config, const Fit &before) noexcept {
    return elb_session_config_set_baseline(&config, before.handle());
}

/// What a bring-up with typed readings is to start from, with its size and defaults set.
inline elb_bench_config bench_config() {
    elb_bench_config config;
    check(elb_bench_config_init(&config, sizeof config));
    return config;
}
[[nodiscard]] inline elb_status try_bench_config(elb_bench_config &out) noexcept { return elb_bench_config_init(&out, sizeof out); }

/// A bring-up: next(), do it, report(), until ELB_ACTION_DONE.
class Session {
public:
    Session() noexcept = default;
    [[nodiscard]] static Session try_make(const elb_session_config &config, elb_error &error) noexcept {
        Session session;
        session.owner_.reset(try_made<elb_session>(
            error, [&](elb_session **out, elb_error *told) { return elb_session_new(&config, out, told); }));
        return session;
    }
    [[nodiscard]] static Session try_make(const elb_bench_config &config, elb_error &error) noexcept {
        Session session;
        session.owner_.reset(try_made<elb_session>(
            error, [&](elb_session **out, elb_error *told) { return elb_session_new_bench(&config, out, told); }));
        return session;
    }
    [[nodiscard]] static Session try_parse(std::string_view text, elb_error &error) noexcept {
        Session session;
        session.owner_.reset(try_made<elb_session>(error, [&](elb_session **out, elb_error *told) {
            return elb_session_parse(text.data(), text.size(), out, told);
        }));
        return session;
    }
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    explicit Session(const elb_session_config &config) {
        make([&](elb_session **out, elb_error *error) { return elb_session_new(&config, out, error); });
    }
    /// For a person who types each reading.
    explicit Session(const elb_bench_config &config) {
        make([&](elb_session **out, elb_error *error) { return elb_session_new_bench(&config, out, error); });
    }
    /// Continues what json() wrote.
    static Session parse(std::string_view text) {
        Session session;
        session.make([&](elb_session **out, elb_error *error) {
            return elb_session_parse(text.data(), text.size(), out, error);
        });
        return session;
    }
    const elb_session *handle() const noexcept { return owner_.get(); }

    elb_action next() const { return asked(elb_session_next, handle()); }
    void report(const elb_report &report) {
        elb_error error;
        if (elb_session_report(owner_.get(), &report, &error) != ELB_STATUS_OK) fail(Error(error));
    }
    [[nodiscard]] elb_status try_next(elb_action &out) const noexcept { return elb_session_next(handle(), &out); }
    [[nodiscard]] elb_status try_report(const elb_report &report, elb_error *error = nullptr) noexcept {
        return elb_session_report(owner_.get(), &report, error);
    }
    [[nodiscard]] elb_status try_outcome(elb_outcome &out) const noexcept { return elb_session_outcome(handle(), &out); }
    void stop() { check(elb_session_stop(owner_.get())); }
    [[nodiscard]] elb_status try_stop() noexcept { return elb_session_stop(owner_.get()); }
    /// Takes the last typed answer back; throws ELB_STATUS_ABSENT where there is none.
    void undo() { check(elb_session_undo(owner_.get())); }
    [[nodiscard]] elb_status try_undo() noexcept { return elb_session_undo(owner_.get()); }
    /// What must be said before the next action: a sum of ELB_CAUTION_....
    std::uint32_t cautions() const { return asked(elb_session_cautions, handle()); }
    [[nodiscard]] elb_status try_cautions(std::uint32_t &out) const noexcept { return elb_session_cautions(handle(), &out); }
    /// Takes what this bring-up found into the plan of the next one of its joint.
    void known_to(elb_session_config &config) const {
        check(elb_session_config_set_baseline_of_session(&config, handle()));
    }
    [[nodiscard]] elb_status try_known_to(elb_session_config &config) const noexcept {
        return elb_session_config_set_baseline_of_session(&config, handle());
    }
    /// Cautions, doubt and question, or the verdict.
    std::string prompt() const { return words(elb_session_prompt); }
    /// Into `text`, with a NUL; `length` is that of the text without it. A view of nothing: the length alone.
    [[nodiscard]] elb_status try_prompt(View<char> text, std::size_t &length) const noexcept {
        return elb_session_prompt(handle(), text.data(), text.size(), &length);
    }
    std::string json() const { return words(elb_session_json); }
    /// Into `text`, with a NUL; `length` is that of the text without it. A view of nothing: the length alone.
    [[nodiscard]] elb_status try_json(View<char> text, std::size_t &length) const noexcept {
        return elb_session_json(handle(), text.data(), text.size(), &length);
    }
    /// Throws ELB_STATUS_ABSENT before the end.
    elb_outcome outcome() const { return asked(elb_session_outcome, handle()); }

private:
    template <class Call> void make(Call call) {
        elb_session *session = nullptr;
        elb_error error;
        if (call(&session, &error) != ELB_STATUS_OK) fail(Error(error));
        owner_.reset(session);
    }
    template <class Call> std::string words(Call call) const {
        std::size_t length = 0;
        check(call(handle(), nullptr, 0, &length));
        std::vector<char> text(length + 1);
        check(call(handle(), text.data(), text.size(), &length));
        return std::string(text.data(), length);
    }
    Owner<elb_session, elb_session_free> owner_;
};

/// Accuracy and repeatability of one axis: `positions` holds one position for each target, run after run.
class Positioning {
public:
    Positioning() noexcept = default;
    /// Takes over what elbowroom_analysis.h made.
    explicit Positioning(elb_positioning *owned) noexcept : owner_(owned) {}
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    const elb_positioning *handle() const noexcept { return owner_.get(); }
    Positioning(View<const double> targets, View<const std::int8_t> approach, View<const double> positions) {
        same_size(positions.size(), "positions", targets.size() * approach.size(), "targets of all runs");
        elb_positioning *made = nullptr;
        elb_error error;
        if (elb_positioning_new(targets.data(), targets.size(), approach.data(), approach.size(), positions.data(), &made,
                                &error) != ELB_STATUS_OK) {
            fail(Error(error));
        }
        owner_.reset(made);
    }
    [[nodiscard]] static Positioning try_make(View<const double> targets, View<const std::int8_t> approach,
                                              View<const double> positions, elb_error &error) noexcept {
        if (positions.size() != targets.size() * approach.size()) {
            refused(ELB_STATUS_LENGTH_MISMATCH, &error);
            return Positioning();
        }
        return Positioning(try_made<elb_positioning>(error, [&](elb_positioning **out, elb_error *told) {
            return elb_positioning_new(targets.data(), targets.size(), approach.data(), approach.size(), positions.data(), out,
                                       told);
        }));
    }
    elb_positioning_axis axis() const { return asked(elb_positioning_axis_of, handle()); }
    [[nodiscard]] elb_status try_axis(elb_positioning_axis &out) const noexcept {
        return elb_positioning_axis_of(handle(), &out);
    }
    elb_positioning_target target(std::size_t i) const { return asked(elb_positioning_target_at, handle(), i); }
    [[nodiscard]] elb_status try_target(std::size_t i, elb_positioning_target &out) const noexcept {
        return elb_positioning_target_at(handle(), i, &out);
    }

private:
    Owner<elb_positioning, elb_positioning_free> owner_;
};

/// Something wrong with a robot, with texts of its own.
struct Finding {
    std::string rule, joint, message, hint, waiver;
    std::uint32_t severity = ELB_SEVERITY_NOTE;
    std::uint32_t line = 0;
};

/// What Robot::try_findings found, open and waived; its texts live as long as it does.
class Findings {
public:
    Findings() noexcept = default;
    explicit Findings(elb_findings *owned) noexcept : owner_(owned) {}
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    const elb_findings *handle() const noexcept { return owner_.get(); }
    [[nodiscard]] elb_status try_open_count(std::size_t &out) const noexcept { return elb_findings_count(handle(), &out); }
    [[nodiscard]] elb_status try_open(std::size_t i, elb_finding &out) const & noexcept {
        return elb_findings_at(handle(), i, &out);
    }
    elb_status try_open(std::size_t, elb_finding &) const && = delete;
    [[nodiscard]] elb_status try_waived_count(std::size_t &out) const noexcept {
        return elb_findings_waived_count(handle(), &out);
    }
    [[nodiscard]] elb_status try_waived(std::size_t i, elb_finding &out) const & noexcept {
        return elb_findings_waived_at(handle(), i, &out);
    }
    elb_status try_waived(std::size_t, elb_finding &) const && = delete;

private:
    Owner<elb_findings, elb_findings_free> owner_;
};

/// What Robot::try_limits_into wrote; its texts live as long as it does.
class Limits {
public:
    Limits() noexcept = default;
    explicit Limits(elb_description *owned) noexcept : owner_(owned) {}
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    const elb_description *handle() const noexcept { return owner_.get(); }
    [[nodiscard]] elb_status try_text(const char *&out) const & noexcept { return elb_description_text(handle(), &out); }
    elb_status try_text(const char *&) const && = delete;
    [[nodiscard]] elb_status try_joint_count(std::size_t &out) const noexcept {
        return elb_description_joint_count(handle(), &out);
    }
    [[nodiscard]] elb_status try_joint(std::size_t i, elb_description_joint &out) const & noexcept {
        return elb_description_joint_at(handle(), i, &out);
    }
    elb_status try_joint(std::size_t, elb_description_joint &) const && = delete;

private:
    Owner<elb_description, elb_description_free> owner_;
};

/// A robot description with the limits of a robot in it.
struct Description {
    /// What became of one joint; `left_out` says why nothing was written, and is empty where it was.
    struct Joint {
        std::string joint, left_out;
        double lower, upper;
        std::uint32_t unit;
    };
    std::string text;
    std::vector<Joint> joints;
};

/// The joints of one robot file.
class Robot {
public:
    Robot() noexcept = default;
    /// Takes over a robot made by elbowroom.h.
    explicit Robot(elb_robot *owned) noexcept : owner_(owned) {}
    [[nodiscard]] static Robot try_parse(std::string_view text, elb_error &error) noexcept {
        return Robot(try_made<elb_robot>(error, [&](elb_robot **out, elb_error *told) {
            return elb_robot_parse(text.data(), text.size(), out, told);
        }));
    }
    [[nodiscard]] static Robot try_load(const char *path, elb_error &error) noexcept {
        return Robot(try_made<elb_robot>(error, [&](elb_robot **out, elb_error *told) { return elb_robot_load(path, out, told); }));
    }
    explicit operator bool() const noexcept { return owner_ != nullptr; }
    static Robot parse(std::string_view text) {
        return make([&](elb_robot **out, elb_error *error) { return elb_robot_parse(text.data(), text.size(), out, error); });
    }
    static Robot load(const std::string &path) {
        return make([&](elb_robot **out, elb_error *error) { return elb_robot_load(path.c_str(), out, error); });
    }
    void save(const std::string &path) const {
        elb_error error;
        if (elb_robot_save(handle(), path.c_str(), &error) != ELB_STATUS_OK) fail(Error(error));
    }
    [[nodiscard]] elb_status try_save(const char *path, elb_error *error = nullptr) const noexcept {
        return elb_robot_save(handle(), path, error);
    }
    /// Takes what the file holds about joint number `i` into the plan of its next bring-up; throws ELB_STATUS_ABSENT without feedback.
    void known_to(elb_session_config &config, std::size_t i) const {
        check(elb_session_config_set_baseline_of_joint(&config, handle(), i));
    }
    [[nodiscard]] elb_status try_known_to(elb_session_config &config, std::size_t i) const noexcept {
        return elb_session_config_set_baseline_of_joint(&config, handle(), i);
    }
    const elb_robot *handle() const noexcept { return owner_.get(); }

    /// Belongs to this robot; Joint::clone makes one that outlives it. A name that is not there throws with the nearest one.
    JointRef joint(const std::string &name) const & {
        return joint(find(name));
    }
    JointRef joint(const std::string &) const && = delete;
    /// Empty if there is no such joint; try_find gives the nearest name.
    [[nodiscard]] JointRef try_joint(const char *name) const & noexcept {
        const elb_joint *joint = nullptr;
        return JointRef(elb_robot_joint(handle(), name, &joint) == ELB_STATUS_OK ? joint : nullptr);
    }
    JointRef try_joint(const char *) const && = delete;
    std::size_t size() const {
        std::size_t n = 0;
        check(elb_robot_joint_count(handle(), &n));
        return n;
    }
    JointRef joint(std::size_t i) const & {
        const elb_joint *joint = nullptr;
        check(elb_robot_joint_at(handle(), i, &joint));
        return JointRef(joint);
    }
    JointRef joint(std::size_t) const && = delete;
    elb_robot_entry entry(std::size_t i) const & { return asked(elb_robot_entry_at, handle(), i); }
    elb_robot_entry entry(std::size_t) const && = delete;
    /// The unit of a joint's commands and its factor to radians, metres or plain numbers.
    elb_unit unit(std::size_t i) const { return asked(elb_robot_unit_at, handle(), i); }
    /// The place of a name in the file, by which joint(), entry(), unit() and counts() go.
    std::size_t find(const std::string &name) const {
        std::size_t place = 0;
        elb_error error;
        if (try_find(name.c_str(), place, &error) != ELB_STATUS_OK) fail(Error(error));
        return place;
    }
    [[nodiscard]] elb_status try_find(const char *name, std::size_t &out, elb_error *error = nullptr) const noexcept {
        return elb_robot_find(handle(), name, &out, error);
    }
    /// Empty if there is no such joint.
    JointRef try_joint(std::size_t i) const & noexcept {
        const elb_joint *joint = nullptr;
        return JointRef(elb_robot_joint_at(handle(), i, &joint) == ELB_STATUS_OK ? joint : nullptr);
    }
    JointRef try_joint(std::size_t) const && = delete;
    [[nodiscard]] elb_status try_entry(std::size_t i, elb_robot_entry &out) const & noexcept {
        return elb_robot_entry_at(handle(), i, &out);
    }
    elb_status try_entry(std::size_t, elb_robot_entry &) const && = delete;
    [[nodiscard]] elb_status try_unit(std::size_t i, elb_unit &out) const noexcept {
        return elb_robot_unit_at(handle(), i, &out);
    }
    [[nodiscard]] elb_status try_size(std::size_t &out) const noexcept { return elb_robot_joint_count(handle(), &out); }
    /// The counts of all joints in one call, commands in file order; `flags` may be a view of nothing. Error::index(), or `done`,
    /// is the joint whose command is refused.
    void counts(View<const double> commands, View<std::uint32_t> counts, View<std::uint32_t> flags = {nullptr, 0}) const {
        std::size_t done = 0;
        const elb_status status = try_counts(commands, counts, flags, done);
        if (status == ELB_STATUS_NOT_FINITE) {
            fail_not_finite(done, commands.data()[done], std::string(", of joint \"") + entry(done).name + "\",");
        }
        if (status == ELB_STATUS_LENGTH_MISMATCH) {
            same_size(commands.size(), "commands", size(), "joints of the robot");
            same_size(counts.size(), "places for counts", commands.size(), "commands");
            same_size(flags.size(), "places for flags", commands.size(), "commands");
        }
        check(status);
    }
    [[nodiscard]] elb_status try_counts(View<const double> commands, View<std::uint32_t> counts, View<std::uint32_t> flags,
                                        std::size_t &done) const noexcept {
        if (commands.size() != counts.size() || (flags.data() != nullptr && flags.size() != commands.size())) {
            return ELB_STATUS_LENGTH_MISMATCH;
        }
        return elb_robot_counts(handle(), commands.data(), commands.size(), counts.data(), flags.data(), &done);
    }
    /// The robot's name; throws ELB_STATUS_ABSENT if the file gives none.
    std::string name() const { return asked(elb_robot_name, handle()); }
    [[nodiscard]] elb_status try_name(const char *&out) const & noexcept { return elb_robot_name(handle(), &out); }
    elb_status try_name(const char *&) const && = delete;
    std::string text() const {
        const char *text = nullptr;
        check(elb_robot_text(handle(), &text));
        return text;
    }
    /// Valid as long as this robot.
    [[nodiscard]] elb_status try_text(const char *&out) const & noexcept { return elb_robot_text(handle(), &out); }
    elb_status try_text(const char *&) const && = delete;
    /// The same robot with other numbers for one joint, or with one joint more.
    Robot with_joint(const std::string &name, const elb_joint_config &config) const {
        return make([&](elb_robot **out, elb_error *error) {
            return elb_robot_with_joint(handle(), name.c_str(), &config, out, error);
        });
    }
    [[nodiscard]] Robot try_with_joint(const char *name, const elb_joint_config &config, elb_error &error) const noexcept {
        return Robot(try_made<elb_robot>(error, [&](elb_robot **out, elb_error *told) {
            return elb_robot_with_joint(handle(), name, &config, out, told);
        }));
    }
    /// The same robot with travel and evidence of a fit for one joint; `today` like "2026-11-20", empty: no date. Readings that
    /// contradict the joint's map are refused, unless `map` is ELB_MAP_KEPT or ELB_MAP_ADOPTED.
    Robot with_fit(const std::string &name, const Fit &fit, const std::string &today = "",
                   uint32_t map = ELB_MAP_JUDGED) const {
        return make([&](elb_robot **out, elb_error *error) {
            return elb_robot_with_fit(handle(), name.c_str(), fit.handle(), today.empty() ? nullptr : today.c_str(),
                                      map, out, error);
        });
    }
    [[nodiscard]] Robot try_with_fit(const char *name, const Fit &fit, const char *today, uint32_t map,
                                     elb_error &error) const noexcept {
        return Robot(try_made<elb_robot>(error, [&](elb_robot **out, elb_error *told) {
            return elb_robot_with_fit(handle(), name, fit.handle(), today, map, out, told);
        }));
    }
    /// The same robot with travel and evidence of a bring-up that found the joint ready; `map` as in with_fit.
    Robot with_session(const std::string &name, const Session &session, const std::string &today = "",
                       uint32_t map = ELB_MAP_JUDGED) const {
        return make([&](elb_robot **out, elb_error *error) {
            return elb_robot_with_session(handle(), name.c_str(), session.handle(), today.empty() ? nullptr : today.c_str(),
                                          map, out, error);
        });
    }
    [[nodiscard]] Robot try_with_session(const char *name, const Session &session, const char *today, uint32_t map,
                                         elb_error &error) const noexcept {
        return Robot(try_made<elb_robot>(error, [&](elb_robot **out, elb_error *told) {
            return elb_robot_with_session(handle(), name, session.handle(), today, map, out, told);
        }));
    }
    /// The same robot without one of its joints.
    Robot without_joint(const std::string &name) const {
        return make([&](elb_robot **out, elb_error *error) {
            return elb_robot_without_joint(handle(), name.c_str(), out, error);
        });
    }
    [[nodiscard]] Robot try_without_joint(const char *name, elb_error &error) const noexcept {
        return Robot(try_made<elb_robot>(error, [&](elb_robot **out, elb_error *told) {
            return elb_robot_without_joint(handle(), name, out, told);
        }));
    }
    /// The image for firmware of the joints on one board; empty: of all joints, if they share one.
    std::vector<std::uint8_t> block(const std::string &board = "") const {
        return image([&](std::uint8_t *bytes, std::size_t room, std::size_t *length, elb_error *error) {
            return elb_robot_block(handle(), board.empty() ? nullptr : board.c_str(), bytes, room, length, error);
        });
    }
    /// Into `image`; `length` is how many bytes it has. A view of nothing: the length alone. NULL for the board: all joints.
    [[nodiscard]] elb_status try_block(const char *board, View<std::uint8_t> image, std::size_t &length,
                                       elb_error *error = nullptr) const noexcept {
        return elb_robot_block(handle(), board, image.data(), image.size(), &length, error);
    }
    /// What is open; `today` as in with_fit, empty: the age of evidence is not judged. `urdf`: the text of a URDF file, a second
    /// opinion; empty: none.
    std::vector<Finding> findings(const std::string &today = "", const std::string &urdf = "") const {
        return checked(today, urdf, elb_findings_count, elb_findings_at);
    }
    /// What the file waives.
    std::vector<Finding> waived(const std::string &today = "") const {
        return checked(today, "", elb_findings_waived_count, elb_findings_waived_at);
    }
    /// Both at once. NULL or an empty text: as above.
    [[nodiscard]] Findings try_waived(const char *today, elb_error &error) const noexcept { return try_findings(today, {}, error); }
    [[nodiscard]] Findings try_findings(const char *today, std::string_view urdf, elb_error &error) const noexcept {
        return Findings(try_made<elb_findings>(error, [&](elb_findings **out, elb_error *told) {
            return urdf.empty() ? elb_robot_check(handle(), today, out, told)
                                : elb_robot_check_urdf(handle(), today, urdf.data(), urdf.size(), out, told);
        }));
    }
    /// The text of a URDF or MJCF file with this robot's limits in it, and what became of each joint.
    Description limits_into(const std::string &text) const {
        const Owner<elb_description, elb_description_free> owner(made<elb_description>([&](elb_description **out, elb_error *error) {
            return elb_robot_limits_into(handle(), text.data(), text.size(), out, error);
        }));
        const elb_description *written = owner.get();
        Description out;
        const char *new_text = nullptr;
        check(elb_description_text(written, &new_text));
        out.text = new_text;
        std::size_t n = 0;
        check(elb_description_joint_count(written, &n));
        for (std::size_t i = 0; i < n; i++) {
            elb_description_joint joint;
            check(elb_description_joint_at(written, i, &joint));
            out.joints.push_back({joint.joint, joint.left_out == nullptr ? "" : joint.left_out, joint.lower, joint.upper, joint.unit});
        }
        return out;
    }
    [[nodiscard]] Limits try_limits_into(std::string_view text, elb_error &error) const noexcept {
        return Limits(try_made<elb_description>(error, [&](elb_description **out, elb_error *told) {
            return elb_robot_limits_into(handle(), text.data(), text.size(), out, told);
        }));
    }

private:
    using Count = elb_status (*)(const elb_findings *, std::size_t *);
    using At = elb_status (*)(const elb_findings *, std::size_t, elb_finding *);
    std::vector<Finding> checked(const std::string &today, const std::string &urdf, Count count, At at) const {
        const Owner<elb_findings, elb_findings_free> found(made<elb_findings>([&](elb_findings **out, elb_error *error) {
            const char *day = today.empty() ? nullptr : today.c_str();
            return urdf.empty() ? elb_robot_check(handle(), day, out, error)
                                : elb_robot_check_urdf(handle(), day, urdf.data(), urdf.size(), out, error);
        }));
        std::vector<Finding> out;
        for (const elb_finding &finding : all(asked(count, found.get()), at, found.get())) {
            const auto text = [](const char *given) { return std::string(given == nullptr ? "" : given); };
            out.push_back({text(finding.rule), text(finding.joint), text(finding.message), text(finding.hint),
                           text(finding.waiver), finding.severity, finding.line});
        }
        return out;
    }
    template <class Call> static Robot make(Call call) { return Robot(made<elb_robot>(call)); }
    Owner<elb_robot, elb_robot_free> owner_;
};

}  // namespace elb

#endif
