/* A bring-up from loose parts to a travel, on a simulated joint; with a real one, three places change.
 *
 *     cc bring_up.c $(pkg-config --cflags --libs elbowroom)
 *
 * Before a real joint moves: load off, a hand on the power switch, nobody's hands in the joint, the first move slow. Show
 * the cautions that elb_session_prompt gives. This computes and cannot stop a motor. */
#include "simulated.h"
#include <stdio.h>

/* (1) Here the real joint is moved and read: send the angle through your serial port, or set the timer with
 * elb_joint_counts_from_drive, no faster than action->max_rate_per_s, and report ELB_REPORT_MOVED_TO with the angle that it says
 * is really commanded; sleep for action->seconds; read the converter. Without a current sensor report.load is NAN.
 * (2) Here a person is asked: read the answer from the terminal, out of those in action->answers. */
static elb_report carry_out(simulated *joint, const elb_action *action) { return simulated_do(joint, action); }

int main(void) {
    elb_session_config plan;
    elb_session *session = NULL;
    elb_error error;
    elb_outcome outcome;
    elb_action action;
    simulated joint = simulated_at(42.5);
    char text[1024];
    unsigned actions = 0;

    if (elb_session_config_init(&plan, sizeof plan) != ELB_STATUS_OK) return 1;
    plan.start = 42.5;
    if (elb_session_new(&plan, &session, &error) != ELB_STATUS_OK) {
        fprintf(stderr, "plan: %s\n", error.message);
        return 1;
    }
    while (elb_session_next(session, &action) == ELB_STATUS_OK && action.kind != ELB_ACTION_DONE) {
        elb_report report;
        if (action.kind == ELB_ACTION_ASK && elb_session_prompt(session, text, sizeof text, NULL) == ELB_STATUS_OK)
            printf("%s\n", text);
        report = carry_out(&joint, &action);
        if (elb_session_report(session, &report, &error) != ELB_STATUS_OK) {
            fprintf(stderr, "report: %s\n", error.message);
            break;
        }
        actions++;
        /* (3) Here elb_session_json writes the bring-up down, so that a power cut costs nothing. */
    }
    if (elb_session_outcome(session, &outcome) != ELB_STATUS_OK) return 1;
    if (elb_session_prompt(session, text, sizeof text, NULL) == ELB_STATUS_OK) printf("%s\n", text);
    printf("%u actions; travel %.2f to %.2f deg; contacts at %.2f and %.2f deg, standard uncertainties %.2f and %.2f deg\n",
           actions, outcome.travel[0], outcome.travel[1], outcome.at[0], outcome.at[1], outcome.u[0], outcome.u[1]);
    elb_session_free(session);
    return outcome.verdict == ELB_OUTCOME_READY ? 0 : 2;
}
