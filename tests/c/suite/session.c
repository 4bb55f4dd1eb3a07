/* Bring-up: a simulated joint brought up, saved and taken up again, and every refusal with its message. */
#include "check.h"
#include <math.h>
#include <stdlib.h>

#include "../../../bindings/c/examples/simulated.h"

static elb_session_config plan(void) {
    elb_session_config config;
    OK(elb_session_config_init(&config, sizeof config));
    config.start = 42.5;
    return config;
}

static elb_session *begun(void) {
    const elb_session_config config = plan();
    elb_session *session = NULL;
    OK(elb_session_new(&config, &session, NULL));
    return session;
}

/* A saved bring-up, to be freed. */
static char *saved(const elb_session *session, size_t *length) {
    char *text;
    OK(elb_session_json(session, NULL, 0, length));
    text = (char *)malloc(*length + 1);
    text[0] = 7;
    EXPECT(ELB_STATUS_NO_ROOM, elb_session_json(session, text, *length, length));
    CHECK(text[0] == 7);
    OK(elb_session_json(session, text, *length + 1, length));
    CHECK(strlen(text) == *length);
    return text;
}

/* Goes through with it; after each `every` actions it is saved, freed and loaded. */
static elb_session *brought_up(simulated *joint, unsigned every) {
    elb_session *session = begun();
    elb_action action;
    elb_error error;
    unsigned actions = 0;
    *joint = simulated_at(42.5);
    for (;;) {
        elb_report report;
        OK(elb_session_next(session, &action));
        if (action.kind == ELB_ACTION_DONE || actions > 20000) break;
        if (action.kind == ELB_ACTION_ASK) {
            char text[1024] = "";
            size_t length = 0;
            OK(elb_session_prompt(session, text, sizeof text, &length));
            CHECK(length == strlen(text) && length > 10 && action.answers != 0 && action.question != ELB_QUESTION_OTHER);
        }
        report = simulated_do(joint, &action);
        error.message[0] = 0;
        OK(elb_session_report(session, &report, &error));
        if (error.message[0] != 0) printf("%s\n", error.message);
        actions++;
        if (every != 0 && actions % every == 0) {
            size_t length = 0;
            char *text = saved(session, &length);
            elb_session_free(session);
            session = NULL;
            OK(elb_session_parse(text, length, &session, &error));
            free(text);
        }
    }
    CHECK(action.kind == ELB_ACTION_DONE && actions < 20000);
    return session;
}

static void whole(void) {
    static const char source[] = "format = 1\n[joint.wing]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
                                 "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
                                 "timer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    simulated joint, again;
    elb_session *session = brought_up(&joint, 0), *other = brought_up(&again, 97);
    elb_outcome outcome, resumed;
    elb_robot *robot = NULL, *made = NULL;
    const elb_joint *wing = NULL;
    elb_joint_config config;
    elb_error error;
    char text[1024] = "";
    OK(elb_session_outcome(session, &outcome));
    OK(elb_session_outcome(other, &resumed));
    OK(elb_session_prompt(session, text, sizeof text, NULL));
    CHECK(outcome.verdict == ELB_OUTCOME_READY && strstr(text, "ready for software") != NULL);
    if (outcome.verdict != ELB_OUTCOME_READY) printf("%s\n", text);
    CHECK(outcome.kind[0] == ELB_END_CONTACT && outcome.kind[1] == ELB_END_CONTACT);
    CHECK(fabs(outcome.at[0] - 12) < 0.5 && fabs(outcome.at[1] - 71) < 0.5 && outcome.u[0] > 0 && outcome.u[1] > 0);
    CHECK(outcome.travel[0] > 12 && outcome.travel[0] < 16 && outcome.travel[1] < 71 && outcome.travel[1] > 67);
    CHECK(outcome.readings > 20 && outcome.guard == 2 && outcome.reserved == 0);
    CHECK(joint.most[0] > 12 - 6 && joint.most[1] < 71 + 6);
    /* Killed and resumed: the same. */
    CHECK(memcmp(&outcome, &resumed, sizeof outcome) == 0);

    OK(elb_robot_parse(source, strlen(source), &robot, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_session(NULL, "wing", session, NULL, ELB_MAP_JUDGED, &made, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_session(robot, NULL, session, NULL, ELB_MAP_JUDGED, &made, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_session(robot, "wing", NULL, NULL, ELB_MAP_JUDGED, &made, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_with_session(robot, "wing", session, NULL, ELB_MAP_JUDGED, NULL, &error));
    EXPECT(ELB_STATUS_UNKNOWN_JOINT, elb_robot_with_session(robot, "leg", session, NULL, ELB_MAP_JUDGED, &made, &error));
    OK(elb_robot_with_session(robot, "wing", session, "2026-11-25", ELB_MAP_JUDGED, &made, &error));
    OK(elb_robot_joint(made, "wing", &wing));
    OK(elb_joint_config_of(wing, &config, sizeof config));
    CHECK(fabs(config.travel[0] - outcome.travel[0]) < 0.01 && fabs(config.travel[1] - outcome.travel[1]) < 0.01);
    elb_robot_free(made);
    elb_robot_free(robot);
    elb_session_free(session);
    elb_session_free(other);
}

/* Brought up by that plan. Whoever is asked holds the joint at its lower stop and says its angle; how often is counted. */
static elb_outcome by_plan(const elb_session_config *config, char text[1024], int *angles) {
    elb_session *session = NULL;
    elb_outcome outcome;
    elb_action action;
    simulated joint = simulated_at(42.5);
    int actions;
    OK(elb_session_new(config, &session, NULL));
    memset(&outcome, 0, sizeof outcome);
    for (actions = 0, *angles = 0; actions < 20000; actions++) {
        elb_report report;
        OK(elb_session_next(session, &action));
        if (action.kind == ELB_ACTION_DONE) break;
        report = simulated_do(&joint, &action);
        if (action.kind == ELB_ACTION_ASK && action.question == ELB_QUESTION_JOINT_ANGLE) {
            joint.joint = simulated_stop[0], joint.hand = 0;
            report.answer = ELB_ANSWER_ANGLE, report.value = joint.joint;
            ++*angles;
        }
        OK(elb_session_report(session, &report, NULL));
    }
    OK(elb_session_prompt(session, text, 1024, NULL));
    OK(elb_session_outcome(session, &outcome));
    elb_session_free(session);
    return outcome;
}

static void no_plan(elb_status status, const elb_session_config *config, const char *words) {
    elb_session *session = NULL;
    elb_error error;
    SAYS(status, elb_session_new(config, &session, &error), error, words);
    CHECK(session == NULL);
}

/* The potentiometer of 4 counts a degree has 255.75 deg of travel over its 1023 counts. */
static void aligned(void) {
    elb_session_config config = plan();
    elb_outcome outcome;
    char text[1024];
    int angles = 0;
    outcome = by_plan(&config, text, &angles);
    CHECK(outcome.verdict == ELB_OUTCOME_READY && angles == 0);
    CHECK(config.alignment_margin == 2);
    config.alignment_joint[0] = simulated_stop[0], config.alignment_joint[1] = simulated_stop[1];
    config.alignment_sensor_travel = 255.75;
    config.alignment_margin = 10;
    outcome = by_plan(&config, text, &angles);
    CHECK(outcome.verdict == ELB_OUTCOME_READY && angles == 1);
    if (outcome.verdict != ELB_OUTCOME_READY) printf("%s\n", text);
    /* 255.75 deg for the 59 of the joint leave 98 beyond each stop. */
    config.alignment_margin = 99;
    outcome = by_plan(&config, text, &angles);
    CHECK(outcome.verdict == ELB_OUTCOME_FAULTY && strstr(text, "sensor") != NULL);
    /* Geared down three times, 13 are left. */
    config.alignment_margin = 14, config.alignment_ratio = 3;
    outcome = by_plan(&config, text, &angles);
    CHECK(outcome.verdict == ELB_OUTCOME_FAULTY && strstr(text, "sensor") != NULL);

    config = plan();
    config.alignment_sensor_travel = -255;
    no_plan(ELB_STATUS_ZERO_WIDTH, &config, "joint [0, 0] must rise");
    config.alignment_joint[0] = 71, config.alignment_joint[1] = 12;
    no_plan(ELB_STATUS_ENDS_SWAPPED, &config, "joint [71, 12] must rise");
    config.alignment_joint[0] = 12, config.alignment_joint[1] = 71;
    no_plan(ELB_STATUS_NOT_POSITIVE, &config, "sensor_travel is -255");
    config.alignment_sensor_travel = 255, config.alignment_reading_range[0] = 900, config.alignment_reading_range[1] = 100;
    no_plan(ELB_STATUS_ENDS_SWAPPED, &config, "reading_range [900, 100] must rise");
}

/* What was found before is known to the next bring-up. */
static void knowing(void) {
    enum { N = 46 };
    double drive[N], reading[N];
    elb_session_config config = plan(), kept;
    elb_readings readings;
    elb_fit *fit = NULL;
    elb_outcome outcome;
    char text[1024];
    int angles = 0;
    size_t i;
    for (i = 0; i < N; i++) {
        simulated joint = simulated_at(0);
        drive[i] = 2.0 * (double)i;
        joint.joint = simulated_held(drive[i]);
        reading[i] = simulated_reading(&joint);
    }
    OK(elb_readings_init(&readings, sizeof readings));
    readings.n = N;
    readings.drive = drive;
    readings.measured = reading;
    OK(elb_fit_limits(&readings, NULL, &fit, NULL));
    CHECK(config.baseline == 0);
    OK(elb_session_config_set_baseline(&config, fit));
    CHECK(config.baseline == (ELB_BASELINE_LINE | ELB_BASELINE_LOWER | ELB_BASELINE_UPPER) && fabs(config.baseline_per_deg - 4) < 0.05);
    CHECK(fabs(config.baseline_contacts[0] - 12) < 0.5 && fabs(config.baseline_contacts[1] - 71) < 0.5);
    CHECK(fabs(config.baseline_reading - (350 + 4 * config.baseline_at)) < 2);
    outcome = by_plan(&config, text, &angles);
    CHECK(outcome.verdict == ELB_OUTCOME_READY);
    if (outcome.verdict != ELB_OUTCOME_READY) printf("%s\n", text);
    /* The same readings, had the horn been one of 24 teeth further then: all is as far off as a tooth. */
    kept = config;
    config.baseline_at += 15;
    config.baseline_contacts[0] += 15, config.baseline_contacts[1] += 15;
    outcome = by_plan(&config, text, &angles);
    CHECK(outcome.verdict == ELB_OUTCOME_FAULTY && strstr(text, "another tooth") != NULL);
    if (strstr(text, "another tooth") == NULL) printf("%s\n", text);
    /* The upper stop was elsewhere then. */
    config = kept;
    config.baseline_contacts[1] = 66;
    outcome = by_plan(&config, text, &angles);
    CHECK(outcome.verdict == ELB_OUTCOME_FAULTY && strstr(text, "stop") != NULL);
    if (strstr(text, "stop") == NULL) printf("%s\n", text);

    config.baseline = ELB_BASELINE_UPPER;
    no_plan(ELB_STATUS_UNKNOWN_VALUE, &config, "baseline is 4; it must be a sum of ELB_BASELINE_");
    config.baseline = ELB_BASELINE_LINE + 8;
    no_plan(ELB_STATUS_UNKNOWN_VALUE, &config, "baseline is 9");
    config.baseline = ELB_BASELINE_LINE + ELB_BASELINE_UPPER, config.baseline_contacts[1] = NAN;
    no_plan(ELB_STATUS_NOT_FINITE, &config, "baseline is not a number");
    config.baseline = ELB_BASELINE_LINE;
    config.baseline_per_deg = 0;
    no_plan(ELB_STATUS_NOT_POSITIVE, &config, "baseline.per_deg");

    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_config_set_baseline(NULL, fit));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_config_set_baseline(&config, NULL));
    config = plan();
    config.size = offsetof(elb_session_config, alignment_joint);
    kept = config;
    EXPECT(ELB_STATUS_BAD_SIZE, elb_session_config_set_baseline(&config, fit));
    CHECK(memcmp(&kept, &config, sizeof kept) == 0);
    elb_fit_free(fit);
}

/* The same from a bring-up that is done, and from a joint of a robot file. */
static void known(void) {
    static const char source[] = "format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
                                 "timer = { frame_hz = 50, counts_per_frame = 4096 }\n"
                                 "[joint.wing]\ncommand = [-40, 60]\ndrive = [37, 137]\nrest = 10\n"
                                 "feedback = { reading = [300, 800], angle = [-40, 60] }\n"
                                 "evidence = { lower = { kind = \"contact\", at = 36, u = 0.1, guard = 1 } }\n"
                                 "[joint.tail]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n";
    simulated joint;
    elb_session *session = brought_up(&joint, 0), *young = begun();
    elb_session_config config = plan(), kept = config;
    elb_robot *robot = NULL;
    elb_outcome outcome;
    char text[1024];
    int angles;
    EXPECT(ELB_STATUS_ABSENT, elb_session_config_set_baseline_of_session(&config, young));
    CHECK(memcmp(&kept, &config, sizeof kept) == 0);
    OK(elb_session_config_set_baseline_of_session(&config, session));
    CHECK(config.baseline == (ELB_BASELINE_LINE | ELB_BASELINE_LOWER | ELB_BASELINE_UPPER) && fabs(config.baseline_per_deg - 4) < 0.05);
    outcome = by_plan(&config, text, &angles);
    CHECK(outcome.verdict == ELB_OUTCOME_READY);
    /* The upper stop was elsewhere then. */
    config.baseline_contacts[1] -= 5;
    outcome = by_plan(&config, text, &angles);
    CHECK(outcome.verdict == ELB_OUTCOME_FAULTY && strstr(text, "stop") != NULL);

    OK(elb_robot_parse(source, strlen(source), &robot, NULL));
    config = plan();
    OK(elb_session_config_set_baseline_of_joint(&config, robot, 0));
    CHECK(config.baseline == (ELB_BASELINE_LINE | ELB_BASELINE_LOWER) && config.baseline_contacts[0] == 36);
    CHECK(fabs(config.baseline_per_deg - 5) < 1e-9 && fabs(config.baseline_reading - (300 + 5 * (config.baseline_at - 37))) < 1e-9);
    kept = config;
    EXPECT(ELB_STATUS_ABSENT, elb_session_config_set_baseline_of_joint(&config, robot, 1));
    EXPECT(ELB_STATUS_ABSENT, elb_session_config_set_baseline_of_joint(&config, robot, 2));
    CHECK(memcmp(&kept, &config, sizeof kept) == 0);
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_config_set_baseline_of_joint(NULL, robot, 0));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_config_set_baseline_of_joint(&config, NULL, 0));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_config_set_baseline_of_session(NULL, session));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_config_set_baseline_of_session(&config, NULL));
    elb_robot_free(robot);
    elb_session_free(session);
    elb_session_free(young);
}

/* The angle that a whole count really commands goes back into the report; cautions have numbers. */
static void commanded(void) {
    elb_session *session = begun();
    elb_joint_config config;
    elb_joint *wing = NULL;
    elb_conversion count;
    elb_action action;
    elb_outcome outcome;
    elb_error error;
    simulated joint = simulated_at(42.5);
    double angle = 0;
    uint32_t cautions = 0, all = 0;
    int actions, asked = 0;
    OK(elb_joint_config_init(&config, sizeof config));
    config.command[0] = 0, config.command[1] = 1, config.drive[0] = 40, config.drive[1] = 45;
    config.servo.angle[0] = 0, config.servo.angle[1] = 180, config.servo.pulse_us[0] = 500, config.servo.pulse_us[1] = 2500;
    config.timer.frame_hz = 50, config.timer.counts_per_frame = 4096;
    OK(elb_joint_new(&config, &wing, NULL));
    /* By hand: 30 deg are 833.33 us, 170.67 counts of 4.8828125 us; count 171 is 834.96 us, 30.146484375 deg. */
    OK(elb_joint_counts_from_drive(wing, 30, &count, &angle));
    CHECK(count.value == 171 && count.flags == 0 && fabs(angle - 30.146484375) < 1e-9);
    OK(elb_joint_counts_from_drive(wing, 200, &count, &angle));
    CHECK(count.flags == ELB_CLAMPED_TO_TRAVEL && fabs(angle - 180) < 0.25);
    EXPECT(ELB_STATUS_NOT_FINITE, elb_joint_counts_from_drive(wing, NAN, &count, &angle));
    for (actions = 0; actions < 20000; actions++) {
        elb_report report;
        OK(elb_session_next(session, &action));
        if (action.kind == ELB_ACTION_DONE) break;
        OK(elb_session_cautions(session, &cautions));
        CHECK((action.kind == ELB_ACTION_ASK) == (cautions != 0));
        all |= cautions;
        if (action.question == ELB_QUESTION_DETACH_DRIVE || action.question == ELB_QUESTION_ATTACH_DRIVE) {
            CHECK((cautions & ELB_CAUTION_POWER_OFF_TO_TOUCH) != 0);
            asked++;
        }
        if (action.kind == ELB_ACTION_MOVE_TO) {
            const double wanted = action.drive;
            OK(elb_joint_counts_from_drive(wing, wanted, &count, &angle));
            action.drive = angle;
            report = simulated_do(&joint, &action);
            report.kind = ELB_REPORT_MOVED_TO, report.value = wanted + 1.5;
            SAYS(ELB_STATUS_OPTION_OUTSIDE, elb_session_report(session, &report, &error), error, "drive angle really commanded");
            report.value = angle;
        } else {
            report = simulated_do(&joint, &action);
        }
        OK(elb_session_report(session, &report, NULL));
    }
    CHECK(asked == 2 && (all & ELB_CAUTION_OTHER) == 0 && (all & ELB_CAUTION_NOT_A_SAFETY_FUNCTION) != 0);
    OK(elb_session_outcome(session, &outcome));
    CHECK(outcome.verdict == ELB_OUTCOME_READY && fabs(outcome.at[0] - 12) < 0.5 && fabs(outcome.at[1] - 71) < 0.5);
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_cautions(NULL, &cautions));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_cautions(session, NULL));
    elb_joint_free(wing);
    elb_session_free(session);
}

static void refused(elb_status status, elb_session *session, uint32_t kind, uint32_t answer, double value, const char *words) {
    elb_report report;
    elb_error error;
    report.kind = kind, report.answer = answer, report.value = value, report.load = NAN;
    SAYS(status, elb_session_report(session, &report, &error), error, words);
}

static void refusals(void) {
    elb_session *session = begun(), *none = NULL;
    elb_session_config config;
    elb_action action, same;
    elb_outcome outcome;
    elb_robot *robot = NULL, *made = NULL;
    elb_error error;
    char text[8] = "x";
    size_t length = 0;
    OK(elb_session_next(session, &action));
    CHECK(action.kind == ELB_ACTION_ASK && action.question == ELB_QUESTION_READY);
    CHECK(action.answers == (ELB_ANSWER_DONE | ELB_ANSWER_NO));
    refused(ELB_STATUS_WRONG_REPORT, session, ELB_ACTION_MOVE_TO, 0, 0, "was reported where");
    refused(ELB_STATUS_WRONG_REPORT, session, ELB_ACTION_ASK, ELB_ANSWER_UPPER, 0, "upper");
    refused(ELB_STATUS_UNKNOWN_VALUE, session, ELB_ACTION_ASK, 3, 0, "answer is 3");
    refused(ELB_STATUS_UNKNOWN_VALUE, session, 77, 0, 0, "kind is 77");
    OK(elb_session_next(session, &same));
    CHECK(memcmp(&action, &same, sizeof same) == 0);
    EXPECT(ELB_STATUS_NO_ROOM, elb_session_prompt(session, text, sizeof text, &length));
    CHECK(strcmp(text, "x") == 0 && length > sizeof text);
    EXPECT(ELB_STATUS_ABSENT, elb_session_outcome(session, &outcome));
    OK(elb_robot_parse("format = 1", 10, &robot, NULL));
    elb_robot_free(robot);

    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_config_init(NULL, sizeof config));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_session_config_init(&config, 8));
    OK(elb_session_config_init(&config, sizeof config));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_new(NULL, &none, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_new(&config, NULL, &error));
    /* The start is left out. */
    SAYS(ELB_STATUS_OPTION_OUTSIDE, elb_session_new(&config, &none, &error), error, "start");
    CHECK(strstr(error.message, "start") != NULL);
    config.start = 42.5, config.rising = 2;
    EXPECT(ELB_STATUS_UNKNOWN_VALUE, elb_session_new(&config, &none, &error));
    config.rising = 1, config.step = NAN;
    EXPECT(ELB_STATUS_NOT_FINITE, elb_session_new(&config, &none, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_next(NULL, &action));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_next(session, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_report(NULL, NULL, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_report(session, NULL, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_prompt(NULL, text, sizeof text, &length));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_prompt(session, NULL, 8, &length));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_json(NULL, text, sizeof text, &length));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_json(session, NULL, 8, &length));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_parse(NULL, 2, &none, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_parse("{}", 2, NULL, &error));
    SAYS(ELB_STATUS_WRONG_TYPE, elb_session_parse("{}", 2, &none, &error), error, "is not a saved bring-up");
    CHECK(strstr(error.message, "is not a saved bring-up") != NULL);
    SAYS(ELB_STATUS_NOT_UTF8, elb_session_parse("\xff", 1, &none, &error), error, "not UTF-8 from byte 0");
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_stop(NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_outcome(NULL, &outcome));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_session_outcome(session, NULL));
    elb_session_free(NULL);
    CHECK(none == NULL && made == NULL);

    OK(elb_session_stop(session));
    OK(elb_session_outcome(session, &outcome));
    CHECK(outcome.verdict == ELB_OUTCOME_STOPPED && isnan(outcome.travel[0]) && isnan(outcome.u[1]));
    refused(ELB_STATUS_PROCEDURE_DONE, session, ELB_ACTION_MOVE_TO, 0, 0, "start a new one");
    elb_session_free(session);

    session = begun();
    refused(ELB_STATUS_WRONG_REPORT, session, ELB_ACTION_READ, 0, 5, "was reported where");
    elb_session_free(session);
}

void test_session(void) {
    whole();
    aligned();
    knowing();
    known();
    commanded();
    refusals();
}
