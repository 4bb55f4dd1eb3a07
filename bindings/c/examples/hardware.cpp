// The usual life cycle of a robot's hardware interface, without exceptions: init, configure, activate, then read and write in
// each cycle, deactivate at the end. Joints by name, positions in radians or metres whatever the robot file's units are.
//
//     c++ -std=c++17 -fno-exceptions -fno-rtti hardware.cpp $(pkg-config --cflags --libs elbowroom) && ./a.out heron.toml
//
// Bus stands for what makes the pulses and reads the sensors. In read and write nothing is allocated, locked or thrown. Before
// a real joint moves: load off, a hand on the power switch, the first move slow. This computes and cannot stop a motor.
#include <elbowroom.hpp>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>

// With exceptions off the program says what a call does that would throw. None is used here.
#if !defined(__cpp_exceptions)
namespace elb {
void fail(const Error &error) {
    std::fputs(error.what(), stderr);
    std::abort();
}
}  // namespace elb
#endif

namespace {

/// Invented: a board whose joints are at once where their pulses say.
struct Bus {
    std::array<std::uint32_t, 16> counts{};
    bool send(std::size_t channel, std::uint32_t count) { return channel < counts.size() && (counts[channel] = count, true); }
    std::uint32_t measured(std::size_t channel) const { return counts[channel]; }
};

class Hardware {
public:
    static constexpr std::size_t most = 16;

    /// Reads the robot file and looks for the joints that the controller will speak of.
    bool init(const char *path, const char *const *names, std::size_t n) {
        elb_error error;
        robot_ = elb::Robot::try_load(path, error);
        if (!robot_) return says(error.message);
        if (robot_.try_size(size_) != ELB_STATUS_OK || size_ > most || n > most) return says("too many joints");
        for (n_ = 0; n_ < n; n_++) {
            if (robot_.try_find(names[n_], place_[n_], &error) != ELB_STATUS_OK) return says(error.message);
        }
        return true;
    }

    /// What is fixed for each joint: its unit, its channel, its ramp. Nothing moves yet.
    bool configure(double cycles_hz) {
        elb_error error;
        for (std::size_t i = 0; i < size_; i++) {
            elb_unit unit;
            elb_robot_entry entry;
            if (robot_.try_unit(i, unit) != ELB_STATUS_OK || robot_.try_entry(i, entry) != ELB_STATUS_OK) return false;
            if (unit.si != ELB_SI_RADIAN && unit.si != ELB_SI_METRE) return says("give each joint a unit of angle or length");
            if (entry.channel >= most) return says("give each joint a channel");
            to_si_[i] = unit.to_si;
            channel_[i] = entry.channel;
            ramp_[i] = elb::Ramp::try_of_joint(robot_.try_joint(i), 0, 0, 0, cycles_hz, error);
            if (!ramp_[i]) return says(error.message);
        }
        return true;
    }

    /// Starts from where the joints stand, so that the first cycle moves nothing.
    bool activate(const Bus &bus) {
        if (!read(bus)) return false;
        for (std::size_t i = 0; i < size_; i++) {
            if (ramp_[i].try_reset(position_[i] / to_si_[i]) != ELB_STATUS_OK) return false;
            wanted_[i] = position_[i];
        }
        return active_ = true;
    }
    void deactivate() { active_ = false; }

    /// Each cycle: where the joints are, rad or m.
    bool read(const Bus &bus) {
        for (std::size_t i = 0; i < size_; i++) {
            double command = 0;
            if (robot_.try_joint(i).try_command_from_counts(bus.measured(channel_[i]), command) != ELB_STATUS_OK) return false;
            position_[i] = command * to_si_[i];
        }
        return true;
    }

    /// Each cycle: one step towards what is wanted, all joints in one call. A refused value moves nothing.
    bool write(Bus &bus) {
        if (!active_) return false;
        std::array<double, most> command{};
        for (std::size_t i = 0; i < size_; i++) {
            if (ramp_[i].try_follow(wanted_[i] / to_si_[i], command[i]) != ELB_STATUS_OK) return false;
        }
        std::array<std::uint32_t, most> counts{};
        std::size_t done = 0;
        const elb::View<const double> given(command.data(), size_);
        const elb::View<std::uint32_t> out(counts.data(), size_), flags(flags_.data(), size_);
        if (robot_.try_counts(given, out, flags, done) != ELB_STATUS_OK) return false;
        for (std::size_t i = 0; i < size_; i++) {
            if (!bus.send(channel_[i], counts[i])) return false;
        }
        return true;
    }

    /// Of the controller's joint `k`, in the order of the names given to init: rad or m.
    double position(std::size_t k) const { return position_[place_[k]]; }
    void want(std::size_t k, double position) { wanted_[place_[k]] = position; }

private:
    static bool says(const char *words) {
        std::fprintf(stderr, "%s\n", words);
        return false;
    }

    elb::Robot robot_;
    std::array<elb::Ramp, most> ramp_;
    std::array<double, most> to_si_{}, position_{}, wanted_{};
    std::array<std::uint32_t, most> channel_{}, flags_{};
    std::array<std::size_t, most> place_{};
    std::size_t size_ = 0, n_ = 0;
    bool active_ = false;
};

}  // namespace

int main(int argc, char **argv) {
    const char *const names[] = {"neck", "wing_left"};
    constexpr double degree = 3.14159265358979323846 / 180;
    Hardware hardware;
    Bus bus;
    bus.counts.fill(283);
    if (argc < 2 || !hardware.init(argv[1], names, 2) || !hardware.configure(50) || !hardware.activate(bus)) return 1;
    const double before = hardware.position(1);
    // Two seconds up, far beyond the end of the wing; then half a second back.
    for (int cycle = 0; cycle < 125; cycle++) {
        hardware.want(1, cycle < 100 ? 500 * degree : 0);
        if (!hardware.write(bus) || !hardware.read(bus)) return 1;
        if (cycle == 0 || cycle == 99 || cycle == 124) std::printf("wing_left at %.1f deg\n", hardware.position(1) / degree);
    }
    hardware.want(0, NAN);
    const bool refused = !hardware.write(bus);
    hardware.deactivate();
    std::printf("%s; started at %.1f deg\n", refused ? "NaN moved nothing" : "NaN was sent", before / degree);
    return refused ? 0 : 1;
}
