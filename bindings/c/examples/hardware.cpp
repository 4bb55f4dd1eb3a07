// The usual life cycle of a robot's hardware interface, without exceptions: init, configure, activate, then read and write in
// each cycle, deactivate at the end. Joints by name, positions in radians or metres whatever the robot file's units are.
//
//     c++ -std=c++17 -fno-exceptions -fno-rtti hardware.cpp $(pkg-config --cflags --libs elbowroom) && ./a.out heron.toml
//
// heron.toml, the demo robot, is tests/data/heron.toml of the sources. A joint in fractions of its range stays in fractions.
//
// Bus stands for what makes the pulses and reads the sensors. In read and write nothing is allocated, locked or thrown. Before
// a real joint moves: load off, a hand on the power switch, the first move slow. This computes and cannot stop a motor.
#include <elbowroom.hpp>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>

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

/// One output of one board.
struct Output {
    std::size_t board, channel;
};

/// Invented: boards whose joints are at once where their pulses say.
struct Bus {
    static constexpr std::size_t boards = 4, channels = 16;
    std::array<std::array<std::uint32_t, channels>, boards> counts{};
    void send(Output to, std::uint32_t count) { counts[to.board][to.channel] = count; }
    std::uint32_t measured(Output of) const { return counts[of.board][of.channel]; }
};

class Hardware {
public:
    static constexpr std::size_t most = 32;

    /// Reads the robot file and looks for the joints that the controller will speak of.
    bool init(const char *path, const char *const *names, std::size_t n) {
        elb_error error;
        robot_ = elb::Robot::try_load(path, error);
        if (!robot_) return says(error.message);
        if (robot_.try_size(size_) != ELB_STATUS_OK) return false;
        if (size_ > most) return says("the robot has %zu joints; this program has room for %zu: raise `most`", size_, most);
        if (n > most) return says("%zu joints are asked for; this program has room for %zu: raise `most`", n, most);
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
            if (entry.channel >= Bus::channels) {
                return says("joint %s: channel %u; a board has %zu, counted from 0", entry.name, unsigned(entry.channel), Bus::channels);
            }
            if (!find_board(entry.board == nullptr ? "" : entry.board, output_[i].board)) return false;
            output_[i].channel = entry.channel;
            to_si_[i] = unit.to_si;
            elb_joint_config config;
            if (robot_.try_joint(i).try_config(config) != ELB_STATUS_OK) return false;
            rest_[i] = config.rest;
            ramp_[i] = elb::Ramp::try_of_joint(robot_.try_joint(i), rest_[i], 0, 0, cycles_hz, error);
            if (!ramp_[i]) return says("joint %s: %s", entry.name, error.message);
        }
        return true;
    }

    /// Sends every joint to its rest. Here the simulated joints begin there; a real joint is moved there slowly, by a ramp.
    bool rest(Bus &bus) { return send(bus, rest_); }

    /// Starts from where the joints stand, so that the first cycle moves nothing.
    bool activate(const Bus &bus) {
        if (!read(bus)) return false;
        for (std::size_t i = 0; i < size_; i++) {
            command_[i] = position_[i] / to_si_[i];
            if (ramp_[i].try_reset(command_[i]) != ELB_STATUS_OK) return false;
            wanted_[i] = position_[i];
        }
        return active_ = true;
    }
    void deactivate() { active_ = false; }

    /// Each cycle: where the joints are, in rad, m or fractions.
    bool read(const Bus &bus) {
        for (std::size_t i = 0; i < size_; i++) {
            double command = 0;
            if (robot_.try_joint(i).try_command_from_counts(bus.measured(output_[i]), command) != ELB_STATUS_OK) return false;
            position_[i] = command * to_si_[i];
        }
        return true;
    }

    /// Each cycle: one step towards what is wanted, all joints in one call. A joint whose wanted value is refused keeps its last
    /// command, the others move on; then this is false, and `refused` counts them.
    bool write(Bus &bus) {
        if (!active_) return false;
        refused_ = 0;
        for (std::size_t i = 0; i < size_; i++) {
            // A ramp that refuses takes no step, so that ramp and joint stay together. A ramp that steps is sent in this cycle: commands
            // that are not sent add up, and the joint jumps by all of them afterwards.
            if (ramp_[i].try_follow(wanted_[i] / to_si_[i], command_[i]) != ELB_STATUS_OK) refused_++;
        }
        // Ramps that stepped while nothing was sent begin again from where the joints are, in activate().
        if (!send(bus, command_)) return active_ = false;
        return refused_ == 0;
    }
    /// How many joints kept their last command in the last cycle, because their wanted values are no numbers.
    std::size_t refused() const { return refused_; }

    /// Of the controller's joint `k`, in the order of the names given to init: rad, m or fractions.
    double position(std::size_t k) const { return position_[place_[k]]; }
    void want(std::size_t k, double position) { wanted_[place_[k]] = position; }

private:
    template <class... Values> static bool says(const char *format, Values... values) {
        if constexpr (sizeof...(values) == 0) {
            std::fputs(format, stderr);
        } else {
            std::fprintf(stderr, format, values...);
        }
        std::fputc('\n', stderr);
        return false;
    }

    /// The number of a board, by its name; each new name is a new board.
    bool find_board(const char *name, std::size_t &out) {
        for (out = 0; out < n_boards_; out++) {
            if (std::strcmp(board_[out], name) == 0) return true;
        }
        if (out == Bus::boards) return says("board %s is one too many; this program has room for %zu", name, Bus::boards);
        board_[n_boards_++] = name;
        return true;
    }

    /// All joints in one call, commands in file order. A refused value sends nothing.
    bool send(Bus &bus, const std::array<double, most> &command) {
        std::array<std::uint32_t, most> counts{};
        std::size_t done = 0;
        const elb::View<const double> given(command.data(), size_);
        const elb::View<std::uint32_t> out(counts.data(), size_), flags(flags_.data(), size_);
        if (robot_.try_counts(given, out, flags, done) != ELB_STATUS_OK) return false;
        for (std::size_t i = 0; i < size_; i++) bus.send(output_[i], counts[i]);
        return true;
    }

    elb::Robot robot_;
    std::array<elb::Ramp, most> ramp_;
    std::array<double, most> to_si_{}, rest_{}, position_{}, wanted_{}, command_{};
    std::array<Output, most> output_{};
    std::array<const char *, Bus::boards> board_{};
    std::array<std::uint32_t, most> flags_{};
    std::array<std::size_t, most> place_{};
    std::size_t size_ = 0, n_ = 0, n_boards_ = 0, refused_ = 0;
    bool active_ = false;
};

}  // namespace

int main(int argc, char **argv) {
    const char *const names[] = {"neck_base", "wing_left"};
    constexpr double degree = 3.14159265358979323846 / 180;
    Hardware hardware;
    Bus bus;
    if (argc < 2) {
        std::fputs("give a robot file: ./a.out heron.toml\n", stderr);
        return 1;
    }
    if (!hardware.init(argv[1], names, 2) || !hardware.configure(50) || !hardware.rest(bus) || !hardware.activate(bus)) return 1;
    const double before = hardware.position(1);
    // Two seconds up, far beyond the end of the wing; then half a second back.
    for (int cycle = 0; cycle < 125; cycle++) {
        hardware.want(1, cycle < 100 ? 500 * degree : 0);
        if (!hardware.write(bus) || !hardware.read(bus)) return 1;
        if (cycle == 0 || cycle == 99 || cycle == 124) std::printf("wing_left at %.1f deg\n", hardware.position(1) / degree);
    }
    // The neck's planner gives NaN for one second, then a number again; the wing goes on all the time.
    const double neck = hardware.position(0);
    double wing = hardware.position(1), most = 0;
    int refused = 0;
    bool neck_stood = true;
    for (int cycle = 0; cycle < 60; cycle++) {
        hardware.want(0, cycle < 50 ? NAN : 0);
        hardware.want(1, 50 * degree);
        if (!hardware.write(bus)) refused++;
        if (!hardware.read(bus)) return 1;
        neck_stood = neck_stood && (cycle >= 50 || hardware.position(0) == neck);
        most = std::fmax(most, std::fabs(hardware.position(1) - wing));
        wing = hardware.position(1);
    }
    hardware.deactivate();
    // 60 deg per second are 1.2 deg per cycle; a timer count is worth 0.52 deg.
    std::printf("%d cycles refused, neck_base %s; wing_left at %.1f deg by steps of at most %.1f deg\n", refused,
                neck_stood ? "kept its position" : "moved", wing / degree, most / degree);
    std::printf("started at %.1f deg\n", before / degree);
    return refused == 50 && neck_stood && most < 2 * degree ? 0 : 1;
}
