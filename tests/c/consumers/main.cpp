// What a user's program in C++ would be.
#include <elbowroom.hpp>
#include <iostream>

int main() {
    elb_joint_config config = elb::joint_config();
    config.command[0] = -40, config.command[1] = 60;
    config.drive[0] = 37, config.drive[1] = 122;
    config.rest = 10;
    config.servo.pulse_us[0] = 500, config.servo.pulse_us[1] = 2500;
    config.timer.counts_per_frame = 4096;
    const elb::Joint joint(config);
    std::cout << joint.counts(90.0).value << "\n";
    return joint.counts(10.0).value != 283;
}
