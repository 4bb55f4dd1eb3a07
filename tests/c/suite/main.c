/* Runs the C tests by name: all of them without arguments, or those that are named. */
#include "check.h"

int checks_failed = 0;
int checks_made = 0;

elb_joint_config example_config(void) {
    elb_joint_config config;
    OK(elb_joint_config_init(&config, sizeof config));
    config.command[0] = -40, config.command[1] = 60;
    config.drive[0] = 37;
    config.drive[1] = 122;
    config.rest = 10;
    config.servo.pulse_us[0] = 500;
    config.servo.pulse_us[1] = 2500;
    config.timer.counts_per_frame = 4096;
    return config;
}

elb_joint *example_joint(void) {
    elb_joint_config config = example_config();
    elb_joint *joint = NULL;
    OK(elb_joint_new(&config, &joint, NULL));
    return joint;
}

#define TESTS(X) X(status) X(faults) X(defaults) X(vectors) X(joint) X(batch) X(transmission) X(feedback) X(fit) X(line) X(fits) X(fit_sides) X(comparison) X(positioning) X(robot) X(description) X(block) X(image) X(ramp) X(follow) X(session) X(bench) X(null) X(threads)

#define DECLARE(name) void test_##name(void);
TESTS(DECLARE)

int main(int argc, char **argv) {
    static const struct {
        const char *name;
        void (*run)(void);
    } tests[] = {
#define ENTRY(name) {#name, test_##name},
        TESTS(ENTRY)
    };
    size_t i;
    int ran = 0;
    setvbuf(stdout, NULL, _IOLBF, BUFSIZ);
    for (i = 0; i < sizeof tests / sizeof tests[0]; i++) {
        int wanted = argc < 2, before = checks_failed, made = checks_made, k;
        for (k = 1; k < argc; k++) wanted |= strcmp(argv[k], tests[i].name) == 0;
        if (!wanted) continue;
        tests[i].run();
        ran++;
        printf("%s - %s (%d checks)\n", checks_failed == before ? "ok" : "not ok", tests[i].name, checks_made - made);
    }
    return checks_failed != 0 || ran == 0;
}
