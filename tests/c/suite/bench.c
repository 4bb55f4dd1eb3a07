/* A bring-up with typed readings: a simulated joint brought up, saved and taken up again, answers taken back, every refusal. */
#include "check.h"
#include <math.h>
#include <stdlib.h>

/* An invented joint: stops at 35 and 124 deg, 2 deg of lost motion, a protractor of 1 deg that rises by 1.3 deg for each. */
typedef struct typist {
    double place, hand, most[2];
    int held;
    unsigned count;
} typist;

static const double typist_stop[2] = {35, 124};

static typist typist_at(double start) {
    typist it;
    it.place = it.most[0] = it.most[1] = start;
    it.hand = 0, it.held = 0, it.count = 0;
    return it;
}

static double typist_reading(typist *it) {
    const double noise = ((double)(++it->count * 7 % 11) - 5) / 12;
    return floor(300 + 1.3 * (it->held ? it->hand : it->place) + noise + 0.5);
}

static elb_report typist_do(typist *it, const elb_action *action) {
    elb_report report;
    report.kind = action->kind, report.answer = 0, report.value = 0, report.load = NAN;
    if (action->kind == ELB_ACTION_MOVE_TO) {
        const double x = action->drive;
        if (x < it->most[0]) it->most[0] = x;
        if (x > it->most[1]) it->most[1] = x;
        if (it->place < x - 1) it->place = x - 1;
        if (it->place > x + 1) it->place = x + 1;
        if (it->place < typist_stop[0]) it->place = typist_stop[0];
        if (it->place > typist_stop[1]) it->place = typist_stop[1];
    } else if (action->kind == ELB_ACTION_READ) {
        report.value = typist_reading(it);
    } else if (action->kind == ELB_ACTION_ASK) {
        report.answer = action->question == ELB_QUESTION_STAYS_BEHIND ? ELB_ANSWER_STOP : ELB_ANSWER_DONE;
        if (action->question == ELB_QUESTION_HOLD_AT_STOP) it->held = 1, it->hand = typist_stop[action->toward == ELB_SIDE_UPPER];
        if (action->question == ELB_QUESTION_ATTACH_DRIVE) it->held = 0;
    }
    return report;
}

static elb_bench_config plan(void) {
    elb_bench_config config;
    OK(elb_bench_config_init(&config, sizeof config));
    config.start = 79.5;
    return config;
}

static elb_session *begun(const elb_bench_config *config) {
    elb_session *session = NULL;
    OK(elb_session_new_bench(config, &session, NULL));
    return session;
}

/* Saved, freed and loaded. */
static elb_session *restarted(elb_session *session) {
    size_t length = 0;
    char *text;
    OK(elb_session_json(session, NULL, 0, &length));
    text = (char *)malloc(length + 1);
    OK(elb_session_json(session, text, length + 1, &length));
    CHECK(strstr(text, "\"procedure\":\"bench\"") != NULL);
    elb_session_free(session);
    session = NULL;
    OK(elb_session_parse(text, length, &session, NULL));
    free(text);
    return session;
}

/* Goes through with it; after each `every` actions it is saved, freed and loaded. The number of readings typed. */
static unsigned brought_up(elb_session **session, typist *joint, unsigned every) {
    elb_action action;
    unsigned typed = 0, actions = 0;
    for (;;) {
        elb_report report;
        char text[1024] = "";
        size_t length = 0;
        OK(elb_session_next(*session, &action));
        if (action.kind == ELB_ACTION_DONE || actions++ > 2000) break;
        OK(elb_session_prompt(*session, text, sizeof text, &length));
        CHECK(length > 10);
        CHECK(action.kind != ELB_ACTION_READ || action.answers == ELB_ANSWER_AGAIN);
        CHECK(action.kind != ELB_ACTION_ASK || action.question != ELB_QUESTION_OTHER);
        typed += action.kind == ELB_ACTION_READ;
        report = typist_do(joint, &action);
        OK(elb_session_report(*session, &report, NULL));
        if (every != 0 && actions % every == 0) *session = restarted(*session);
    }
    CHECK(action.kind == ELB_ACTION_DONE);
    return typed;
}

static void whole(uint32_t feel_stops, double over) {
    static const char source[] = "format = 1\n[joint.wing]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
                                 "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
                                 "timer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    elb_bench_config config = plan();
    elb_session *session, *other;
    typist joint = typist_at(79.5), again = joint;
    elb_outcome outcome, resumed;
    elb_robot *robot = NULL, *made = NULL;
    const elb_joint *wing = NULL;
    elb_joint_config found;
    elb_error error;
    unsigned typed;
    config.feel_stops = feel_stops;
    session = begun(&config), other = begun(&config);
    typed = brought_up(&session, &joint, 0);
    CHECK(typed <= (feel_stops ? 30u : 45u));
    CHECK(brought_up(&other, &again, 13) == typed);
    OK(elb_session_outcome(session, &outcome));
    OK(elb_session_outcome(other, &resumed));
    CHECK(memcmp(&outcome, &resumed, sizeof outcome) == 0);
    CHECK(outcome.verdict == ELB_OUTCOME_READY && outcome.kind[0] == ELB_END_CONTACT && outcome.kind[1] == ELB_END_CONTACT);
    CHECK(fabs(outcome.at[0] - 35) < 1.5 && fabs(outcome.at[1] - 124) < 1.5 && outcome.u[0] < 0.51 && outcome.u[1] < 0.51);
    CHECK(joint.most[0] >= 34 - over && joint.most[1] <= 125 + over);
    OK(elb_robot_parse(source, strlen(source), &robot, NULL));
    /* Its scale rises by 1.3 for each degree of drive, from 300 on: not by the map of the file. */
    SAYS(ELB_STATUS_MAP_CONTRADICTED, elb_robot_with_session(robot, "wing", session, "2026-11-25", ELB_MAP_JUDGED, &made, &error), error,
         "the readings contradict the map in the file");
    CHECK(made == NULL);
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_robot_with_session(robot, "wing", session, "2026-11-25", 3, &made, &error));
    OK(elb_robot_with_session(robot, "wing", session, "2026-11-25", ELB_MAP_KEPT, &made, NULL));
    OK(elb_robot_joint(made, "wing", &wing));
    OK(elb_joint_config_of(wing, &found, sizeof found));
    CHECK(fabs(found.travel[0] - outcome.travel[0]) < 0.01 && fabs(found.travel[1] - outcome.travel[1]) < 0.01);
    elb_robot_free(made);
    elb_robot_free(robot);
    elb_session_free(session);
    elb_session_free(other);
}

/* On to the next reading. */
static elb_action to_reading(elb_session *session, typist *joint) {
    elb_action action;
    OK(elb_session_next(session, &action));
    while (action.kind != ELB_ACTION_READ && action.kind != ELB_ACTION_DONE) {
        elb_report report = typist_do(joint, &action);
        OK(elb_session_report(session, &report, NULL));
        OK(elb_session_next(session, &action));
    }
    return action;
}

static void taken_back(void) {
    elb_bench_config config = plan();
    elb_session *session = begun(&config);
    typist joint = typist_at(79.5);
    elb_report report;
    elb_action action;
    char text[1024] = "";
    int i;
    EXPECT(ELB_STATUS_ABSENT, elb_session_undo(session));
    for (i = 0; i < 6; i++) {
        action = to_reading(session, &joint);
        report = typist_do(&joint, &action);
        OK(elb_session_report(session, &report, NULL));
    }
    action = to_reading(session, &joint);
    /* A slip of the pen is asked for again at once. */
    report.kind = ELB_ACTION_READ, report.value = 12, report.load = NAN, report.answer = 0;
    OK(elb_session_report(session, &report, NULL));
    OK(elb_session_next(session, &action));
    OK(elb_session_prompt(session, text, sizeof text, NULL));
    CHECK(action.kind == ELB_ACTION_READ && strstr(text, "without looking") != NULL);
    OK(elb_session_undo(session));
    OK(elb_session_next(session, &action));
    CHECK(action.kind == ELB_ACTION_MOVE_TO);
    to_reading(session, &joint);
    report.kind = ELB_ACTION_ASK, report.answer = ELB_ANSWER_AGAIN;
    OK(elb_session_report(session, &report, NULL));
    OK(elb_session_next(session, &action));
    CHECK(action.kind == ELB_ACTION_MOVE_TO);
    brought_up(&session, &joint, 0);
    OK(elb_session_stop(session));
    elb_session_free(session);
}

static void no_plan(elb_status status, const elb_bench_config *config, const char *words) {
    elb_session *session = NULL;
    elb_error error;
    SAYS(status, elb_session_new_bench(config, &session, &error), error, words);
    CHECK(session == NULL);
}

static void refusals(void) {
    elb_bench_config config = plan();
    elb_session *session = NULL;
    elb_error error;
    elb_report report;
    EXPECT(ELB_STATUS_NULL_POINTER, elb_bench_config_init(NULL, sizeof config));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_bench_config_init(&config, 8));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_new_bench(NULL, &session, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_new_bench(&config, NULL, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_undo(NULL));
    config.start = 3;
    no_plan(ELB_STATUS_OPTION_OUTSIDE, &config, "start is 3");
    config = plan(), config.feel_stops = 2;
    no_plan(ELB_STATUS_UNKNOWN_VALUE, &config, "feel_stops is 2");
    config = plan(), config.closes_loop = 7;
    no_plan(ELB_STATUS_UNKNOWN_VALUE, &config, "closes_loop is 7");
    config = plan(), config.most_readings = 70000;
    no_plan(ELB_STATUS_UNKNOWN_VALUE, &config, "most_readings is 70000");
    config = plan(), config.overtravel = NAN;
    no_plan(ELB_STATUS_NOT_FINITE, &config, "overtravel");
    config = plan(), config.u_reading = -1;
    no_plan(ELB_STATUS_NOT_POSITIVE, &config, "u_reading");
    config = plan(), config.search_limits[0] = 190;
    no_plan(ELB_STATUS_ENDS_SWAPPED, &config, "search_limits");
    config = plan();
    session = begun(&config);
    report.kind = ELB_ACTION_ASK, report.answer = ELB_ANSWER_STOP, report.value = 0, report.load = NAN;
    SAYS(ELB_STATUS_WRONG_REPORT, elb_session_report(session, &report, &error), error, "answer done or no");
    elb_session_free(session);
    session = NULL;
    SAYS(ELB_STATUS_WRONG_TYPE, elb_session_parse("{\"procedure\":\"bench\"}", 21, &session, &error), error, "is not a saved bring-up");
    CHECK(session == NULL);
}

void test_bench(void) {
    whole(0, 5);
    whole(1, 8);
    taken_back();
    refusals();
}
