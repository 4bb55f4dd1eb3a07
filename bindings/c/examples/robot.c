/* A robot file at start: read it, refuse to run on errors, look the joints up once, put all at rest.
 *
 *     cc robot.c $(pkg-config --cflags --libs elbowroom) && ./a.out heron.toml 2026-11-25
 */
#include <elbowroom.h>
#include <stdio.h>

/* Prints what a check found; returns how many errors there are. */
static int report(const elb_robot *robot, const char *today) {
    elb_findings *findings = NULL;
    elb_finding finding;
    elb_error error;
    size_t n = 0, i;
    int errors = 0;
    if (elb_robot_check(robot, today, &findings, &error) != ELB_STATUS_OK) {
        fprintf(stderr, "%s\n", error.message);
        return 1;
    }
    if (elb_findings_count(findings, &n) != ELB_STATUS_OK) n = 0;
    for (i = 0; i < n; i++) {
        if (elb_findings_at(findings, i, &finding) != ELB_STATUS_OK) continue;
        printf("line %u: %s: %s: %s; %s\n", (unsigned)finding.line, finding.joint ? finding.joint : "robot", finding.rule,
               finding.message, finding.hint);
        errors += finding.severity == ELB_SEVERITY_ERROR;
    }
    elb_findings_free(findings);
    return errors;
}

int main(int argc, char **argv) {
    elb_robot *robot = NULL;
    elb_error error;
    size_t n = 0, i;
    int errors;
    if (argc < 2) {
        fprintf(stderr, "usage: %s ROBOT.toml [YYYY-MM-DD]\n", argv[0]);
        return 2;
    }
    if (elb_robot_load(argv[1], &robot, &error) != ELB_STATUS_OK) {
        fprintf(stderr, "%s\n", error.message);
        return 2;
    }
    errors = report(robot, argc > 2 ? argv[2] : NULL);
    if (elb_robot_joint_count(robot, &n) != ELB_STATUS_OK) n = 0;
    for (i = 0; i < n; i++) {
        const elb_joint *joint;
        elb_robot_entry entry;
        elb_joint_config config;
        elb_conversion counts;
        if (elb_robot_joint_at(robot, i, &joint) == ELB_STATUS_OK && elb_robot_entry_at(robot, i, &entry) == ELB_STATUS_OK &&
            elb_joint_config_of(joint, &config, sizeof config) == ELB_STATUS_OK &&
            elb_joint_counts(joint, config.rest, &counts) == ELB_STATUS_OK) {
            printf("%s rests at command %g, count %.0f of %u\n", entry.name, config.rest, counts.value,
                   (unsigned)config.timer.counts_per_frame);
        }
    }
    elb_robot_free(robot);
    return errors != 0;
}
