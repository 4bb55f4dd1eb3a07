// What a user's program in C++ would be.
#include <elbowroom.hpp>
#include <iostream>

int main() {
    elb_joint_config config = elb::joint_config();
    config.command[1] = 180;
    config.drive[0] = 5, config.drive[1] = 80;
    config.rest = 90;
    config.servo_pulse_us[0] = 500, config.servo_pulse_us[1] = 2500;
    config.counts_per_frame = 4096;
    const elb::Joint joint(config);
    std::cout << joint.counts(90.0) << "\n";
    return joint.counts(90.0) != 199;
}
