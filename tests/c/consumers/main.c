/* What a user's program would be: the example of the manual, and the version it was linked with. */
#include <elbowroom.h>
#include <stdio.h>
#include <string.h>

int main(void) {
    elb_joint_config config;
    elb_joint *joint;
    elb_error error;
    elb_conversion counts;
    if (elb_joint_config_init(&config, sizeof config)) return 1;
    config.command[0] = -40, config.command[1] = 60;
    config.drive[0] = 37, config.drive[1] = 122;
    config.rest = 10;
    config.servo.pulse_us[0] = 500, config.servo.pulse_us[1] = 2500;
    config.timer.counts_per_frame = 4096;
    if (elb_joint_new(&config, &joint, &error)) return puts(error.message), 1;
    if (elb_joint_counts(joint, 10, &counts) == ELB_STATUS_OK) printf("%g %s\n", counts.value, elb_version());
    elb_joint_free(joint);
    return counts.value != 283 || elb_version_number() != ELB_VERSION_NUMBER;
}
