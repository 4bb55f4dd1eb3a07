/* A small simulated joint, so that the bring-up can be tried without one. Invented numbers: stops at 12 and 71 deg, a
 * 10-bit potentiometer of 4 counts a degree, a servo whose own loop runs over it, 300 deg/s, no play. */
#ifndef SIMULATED_H
#define SIMULATED_H
#include <elbowroom.h>

typedef struct simulated {
    double command, joint;     /* deg */
    double hand, hand_before;  /* how far the sensor is turned by hand while the drive is off, deg */
    double most[2];            /* the outermost commands so far, deg */
    int detached;
} simulated;

static const double simulated_stop[2] = {12, 71};

static simulated simulated_at(double start) {
    simulated it;
    it.command = it.joint = it.most[0] = it.most[1] = start;
    it.hand = it.hand_before = 0;
    it.detached = 0;
    return it;
}

static double simulated_held(double x) {
    return x < simulated_stop[0] ? simulated_stop[0] : x > simulated_stop[1] ? simulated_stop[1] : x;
}

/* The converter's whole counts. */
static double simulated_reading(const simulated *it) {
    return (double)(int)(350 + 4 * (it->joint + it->hand) + 0.5);
}

/* The answer of somebody who looks closely. */
static uint32_t simulated_answer(simulated *it, const elb_action *action) {
    switch (action->question) {
    case ELB_QUESTION_DETACH_DRIVE: it->detached = 1; return ELB_ANSWER_DONE;
    case ELB_QUESTION_ATTACH_DRIVE: it->detached = 0, it->hand = 0; return ELB_ANSWER_DONE;
    case ELB_QUESTION_TURN_SENSOR:
        it->hand += action->toward == ELB_SIDE_LOWER ? -action->amount : action->amount;
        return ELB_ANSWER_DONE;
    case ELB_QUESTION_DRIVE_RESPONSE:
        /* The loop turns the drive to where it thinks that the error is. */
        return it->hand > 1 ? ELB_ANSWER_LOWER : it->hand < -1 ? ELB_ANSWER_UPPER : ELB_ANSWER_STILL;
    case ELB_QUESTION_WHAT_MOVED: return ELB_ANSWER_JOINT;
    case ELB_QUESTION_WHAT_IS_MET: return ELB_ANSWER_STOP;
    default: return ELB_ANSWER_DONE;
    }
}

/* Does what is asked, and says so. */
static elb_report simulated_do(simulated *it, const elb_action *action) {
    elb_report report;
    report.kind = action->kind;
    report.value = 0, report.load = 0, report.answer = 0;
    if (action->kind == ELB_ACTION_MOVE_TO) {
        it->command = action->drive;
        if (it->command < it->most[0]) it->most[0] = it->command;
        if (it->command > it->most[1]) it->most[1] = it->command;
        if (!it->detached) it->joint = simulated_held(it->command);
    } else if (action->kind == ELB_ACTION_READ) {
        report.value = simulated_reading(it);
        /* A servo that cannot get where it should draws more. */
        report.load = it->command == it->joint ? 0.02 : 0.6;
    } else if (action->kind == ELB_ACTION_ASK) {
        report.answer = simulated_answer(it, action);
    }
    return report;
}
#endif
