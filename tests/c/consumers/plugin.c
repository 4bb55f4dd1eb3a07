/* A plugin that holds the static library, and the program of two libraries in Rust: -DPROGRAM. */
#include <elbowroom.h>

unsigned other_sum(unsigned n);

int plugin_count(void);
int plugin_count(void) {
    static const char text[] =
        "format = 1\n[joint.wing]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
        "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    const double command = 10;
    uint32_t count = 0;
    elb_robot *robot;
    if (elb_robot_parse(text, sizeof text - 1, &robot, NULL)) return -1;
    if (elb_robot_counts(robot, &command, 1, &count, NULL, NULL)) count = 0;
    elb_robot_free(robot);
    return (int)count;
}

#ifdef PROGRAM
int main(void) { return !(plugin_count() == 283 && other_sum(4) == 6 && other_sum(10) == 99); }
#endif
