/* A control loop at 50 Hz: one count per frame for the timer, and a word when a command is held back.
 *
 *     cc loop.c $(pkg-config --cflags --libs elbowroom) -lm
 *
 * The numbers are invented: the wing of a heron in a museum. Before a real joint moves: load off, a hand on the power
 * switch, the first move slow. */
#include <elbowroom.h>
#include <math.h>
#include <stdio.h>

enum { FRAMES = 100 };

/* Here your timer's register is written. */
static void set_timer(uint32_t counts) { (void)counts; }

int main(void) {
    elb_joint_config config;
    elb_joint *wing = NULL;
    elb_error error;
    uint32_t flags_before = 0;
    int frame;

    if (elb_joint_config_init(&config, sizeof config) != ELB_STATUS_OK) return 1;
    config.command[0] = -40;
    config.command[1] = 60;
    config.drive[0] = 37;
    config.drive[1] = 122;
    config.travel[0] = 40.2;
    config.travel[1] = 119;
    config.rest = 10;
    config.servo.pulse_us[0] = 500;
    config.servo.pulse_us[1] = 2500;
    config.timer.counts_per_frame = 4096;
    if (elb_joint_new(&config, &wing, &error) != ELB_STATUS_OK) {
        fprintf(stderr, "wing: %s\n", error.message);
        return 1;
    }
    for (frame = 0; frame < FRAMES; frame++) {
        const double command = 10 + 62 * sin(2 * 3.14159265358979 * frame / 50.0);
        elb_conversion counts;
        const elb_status status = elb_joint_counts(wing, command, &counts);
        if (status != ELB_STATUS_OK) {
            /* For example NaN: no count is sent, and the servo keeps its position. */
            fprintf(stderr, "frame %d: %s\n", frame, elb_status_text(status));
            continue;
        }
        set_timer((uint32_t)counts.value);
        if (counts.flags != flags_before) {
            printf("frame %3d: command %7.2f -> count %3.0f%s%s\n", frame, command, counts.value,
                   counts.flags & ELB_CLAMPED_TO_COMMAND ? ", clamped to the command range" : "",
                   counts.flags & ELB_CLAMPED_TO_TRAVEL ? ", clamped to the travel" : "");
        }
        flags_before = counts.flags;
    }
    elb_joint_free(wing);
    return 0;
}
