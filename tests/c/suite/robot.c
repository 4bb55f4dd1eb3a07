/* Robot files: read, asked, changed, saved, refused with the place of the fault; findings. */
#include "check.h"
#include <stdio.h>
#include <stdlib.h>

static const char heron[] =
    "format = 1\n"
    "name = \"heron\"\n"
    "timer = { frame_hz = 50, counts_per_frame = 4096 }\n"
    "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
    "check = { waive = [{ rule = \"rate-missing\", joint = \"wing_left\", reason = \"slow by its spring\" }] }\n"
    "\n"
    "[joint.wing_left]   # the one that squeaks\n"
    "board = \"breast\"\n"
    "channel = 3\n"
    "command = [-40, 60]\n"
    "drive = [37, 122]\n"
    "travel = [40.2, 119]\n"
    "rest = 10\n"
    "mirror_of = \"wing_right\"\n"
    "\n"
    "[joint.wing_right]\n"
    "unit = \"deg\"\n"
    "command = [-40, 60]\n"
    "drive = [37, 122]\n"
    "travel = [20, 60]\n"
    "rest = 0\n";

static elb_robot *parse(const char *text) {
    elb_robot *robot = NULL;
    elb_error error;
    error.message[0] = 0;
    OK(elb_robot_parse(text, strlen(text), &robot, &error));
    if (robot == NULL) printf("%s\n", error.message);
    return robot;
}

static void reading(void) {
    elb_robot *robot = parse(heron);
    const elb_joint *joint = NULL, *same = NULL;
    const char *text = NULL;
    elb_robot_entry entry;
    elb_conversion counts;
    size_t n = 0;
    OK(elb_robot_name(robot, &text));
    CHECK(strcmp(text, "heron") == 0);
    OK(elb_robot_text(robot, &text));
    CHECK(strcmp(text, heron) == 0);
    OK(elb_robot_joint_count(robot, &n));
    CHECK(n == 2);
    OK(elb_robot_joint(robot, "wing_left", &joint));
    OK(elb_joint_counts(joint, 10, &counts));
    CHECK(counts.value == 283);
    OK(elb_robot_joint_at(robot, 0, &same));
    CHECK(same == joint);
    OK(elb_robot_entry_at(robot, 0, &entry));
    CHECK(strcmp(entry.name, "wing_left") == 0 && strcmp(entry.board, "breast") == 0 && entry.unit == NULL);
    CHECK(strcmp(entry.mirror_of, "wing_right") == 0 && entry.channel == 3 && entry.line == 7);
    OK(elb_robot_entry_at(robot, 1, &entry));
    CHECK(strcmp(entry.unit, "deg") == 0 && entry.board == NULL && entry.channel == ELB_NO_CHANNEL);
    EXPECT(ELB_STATUS_ABSENT, elb_robot_entry_at(robot, 2, &entry));
    EXPECT(ELB_STATUS_ABSENT, elb_robot_joint_at(robot, SIZE_MAX, &same));
    EXPECT(ELB_STATUS_UNKNOWN_JOINT, elb_robot_joint(robot, "wing_lfet", &same));
    EXPECT(ELB_STATUS_NOT_UTF8, elb_robot_joint(robot, "\xff", &same));
    CHECK(same == joint);
    elb_robot_free(robot);
    elb_robot_free(NULL);

    robot = parse("format = 1\n");
    EXPECT(ELB_STATUS_ABSENT, elb_robot_name(robot, &text));
    elb_robot_free(robot);
}

/* A joint's place by its name, and its unit with a factor to SI. */
static void found_once(void) {
    static const char units[] =
        "format = 1\n"
        "timer = { frame_hz = 50, counts_per_frame = 4096 }\n"
        "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n";
    static const struct {
        const char *word;
        uint32_t code, si;
        double to_si;
    } known[] = {
        {"deg", ELB_UNIT_DEG, ELB_SI_RADIAN, 3.14159265358979323846 / 180},
        {"rad", ELB_UNIT_RAD, ELB_SI_RADIAN, 1},
        {"turn", ELB_UNIT_TURN, ELB_SI_RADIAN, 2 * 3.14159265358979323846},
        {"mm", ELB_UNIT_MM, ELB_SI_METRE, 0.001},
        {"cm", ELB_UNIT_CM, ELB_SI_METRE, 0.01},
        {"m", ELB_UNIT_M, ELB_SI_METRE, 1},
        {"in", ELB_UNIT_INCH, ELB_SI_METRE, 0.0254},
        {"fraction", ELB_UNIT_FRACTION, ELB_SI_ONE, 1},
        {"percent", ELB_UNIT_PERCENT, ELB_SI_ONE, 0.01},
        {"furlong", ELB_UNIT_OTHER, ELB_SI_NONE, NAN},
        {NULL, ELB_UNIT_NONE, ELB_SI_NONE, NAN},
    };
    enum { KNOWN = sizeof known / sizeof known[0] };
    char text[4096];
    elb_robot *robot;
    elb_error error;
    elb_unit unit = {-1, 77, 77};
    size_t place = 77, i;
    strcpy(text, units);
    for (i = 0; i < KNOWN; i++) {
        char *end = text + strlen(text);
        end += sprintf(end, "[joint.j%u]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n", (unsigned)i);
        if (known[i].word != NULL) sprintf(end, "unit = \"%s\"\n", known[i].word);
    }
    robot = parse(text);
    for (i = 0; i < KNOWN; i++) {
        char name[16];
        sprintf(name, "j%u", (unsigned)i);
        OK(elb_robot_find(robot, name, &place, &error));
        CHECK(place == i);
        OK(elb_robot_unit_at(robot, i, &unit));
        CHECK(unit.code == known[i].code && unit.si == known[i].si);
        CHECK(unit.to_si == known[i].to_si || (isnan(unit.to_si) && isnan(known[i].to_si)));
    }
    unit.code = 77;
    EXPECT(ELB_STATUS_ABSENT, elb_robot_unit_at(robot, KNOWN, &unit));
    CHECK(unit.code == 77);
    elb_robot_free(robot);

    robot = parse(heron);
    place = 77;
    SAYS(ELB_STATUS_UNKNOWN_JOINT, elb_robot_find(robot, "wing_lfet", &place, &error), error,
         "no joint is named \"wing_lfet\"; the nearest name is \"wing_left\"");
    CHECK(error.index == ELB_NO_INDEX && error.line == 0);
    EXPECT(ELB_STATUS_UNKNOWN_JOINT, elb_robot_find(robot, "", &place, NULL));
    SAYS(ELB_STATUS_NOT_UTF8, elb_robot_find(robot, "wing\xff", &place, &error), error, "not UTF-8 from byte 4");
    CHECK(place == 77);
    elb_robot_free(robot);
    robot = parse("format = 1\n");
    SAYS(ELB_STATUS_UNKNOWN_JOINT, elb_robot_find(robot, "wing", &place, &error), error, "the file has no joints yet");
    OK(elb_robot_counts(robot, NULL, 0, NULL, NULL, &place));
    CHECK(place == 0);
    elb_robot_free(robot);
}

/* All joints in one call: what the single calls give, flags too, and refusals that name the joint. */
static void all_at_once(void) {
    static const char text[] =
        "format = 1\n"
        "timer = { frame_hz = 50, counts_per_frame = 4096 }\n"
        "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
        "[joint.straight]\ncommand = [-40, 60]\ndrive = [37, 122]\ntravel = [40.2, 119]\nrest = 10\n"
        "[joint.inverted]\ncommand = [-40, 60]\ndrive = [37, 122]\ntravel = [40.2, 119]\ninverted = true\nrest = 10\n"
        "[joint.curved]\ncommand = [-40, 60]\ndrive = [37, 122]\ntravel = [40.2, 119]\nrest = 10\n"
        "transmission = { kind = \"curve\", knots = [[-40, 37], [0, 80], [60, 122]] }\n"
        "[joint.linked]\ncommand = [-40, 60]\ndrive = [37, 122]\ntravel = [40.2, 119]\nrest = 10\n"
        "transmission = { kind = \"triangle\", base = 18, arm = 41, angle_at_zero = 60 }\n";
    enum { JOINTS = 4 };
    elb_robot *robot = parse(text);
    const elb_joint *joint = NULL;
    double command[JOINTS];
    uint32_t counts[JOINTS + 1], flags[JOINTS + 1], seen = 0;
    size_t done = 77, i;
    int step;
    for (step = -2000; step <= 2000; step++) {
        for (i = 0; i < JOINTS; i++) command[i] = step * 0.05 + 0.1 * (double)i;
        if (step == 0) command[0] = -1e300, command[1] = 1e300;
        OK(elb_robot_counts(robot, command, JOINTS, counts, flags, &done));
        CHECK(done == JOINTS);
        for (i = 0; i < JOINTS; i++) {
            elb_conversion single, drive;
            OK(elb_robot_joint_at(robot, i, &joint));
            OK(elb_joint_counts(joint, command[i], &single));
            OK(elb_joint_drive(joint, command[i], &drive));
            CHECK(single.value == counts[i] && single.flags == flags[i] && drive.flags == flags[i]);
            seen |= 1u << flags[i];
        }
    }
    /* None, travel, and both: outside the command range these travels hold back too. */
    CHECK(seen == (1u << 0 | 1u << 2 | 1u << 3));
    command[0] = command[1] = command[2] = command[3] = 10;
    OK(elb_robot_counts(robot, command, JOINTS, counts, NULL, NULL));
    CHECK(counts[0] == 283 && counts[1] == 283);

    /* A refused command is named by its index; all before it are written, the rest is not touched. */
    for (i = 0; i <= JOINTS; i++) counts[i] = flags[i] = 7;
    command[2] = NAN;
    EXPECT(ELB_STATUS_NOT_FINITE, elb_robot_counts(robot, command, JOINTS, counts, flags, &done));
    CHECK(done == 2 && counts[1] == 283 && flags[1] == 0 && counts[2] == 7 && flags[2] == 7 && counts[3] == 7);
    command[0] = -INFINITY;
    EXPECT(ELB_STATUS_NOT_FINITE, elb_robot_counts(robot, command, JOINTS, counts, flags, &done));
    CHECK(done == 0);
    done = 77;
    command[0] = command[2] = 10;
    counts[0] = 7;
    EXPECT(ELB_STATUS_LENGTH_MISMATCH, elb_robot_counts(robot, command, JOINTS - 1, counts, flags, &done));
    EXPECT(ELB_STATUS_LENGTH_MISMATCH, elb_robot_counts(robot, NULL, 0, counts, flags, &done));
    EXPECT(ELB_STATUS_BAD_SIZE, elb_robot_counts(robot, command, SIZE_MAX / 4, counts, flags, &done));
    EXPECT(ELB_STATUS_OVERLAP, elb_robot_counts(robot, command, JOINTS, (uint32_t *)(void *)command, flags, &done));
    EXPECT(ELB_STATUS_OVERLAP, elb_robot_counts(robot, command, JOINTS, counts, counts + 1, &done));
    EXPECT(ELB_STATUS_OVERLAP, elb_robot_counts(robot, command, JOINTS, counts, (uint32_t *)(void *)command, &done));
    EXPECT(ELB_STATUS_MISALIGNED, elb_robot_counts(robot, (const double *)(const void *)((const char *)command + 1), JOINTS, counts, flags, &done));
    CHECK(done == 0 && counts[0] == 7 && counts[JOINTS] == 7 && flags[JOINTS] == 7 && command[0] == 10);
    elb_robot_free(robot);
}

/* Text, status, line, column and a piece of the message. */
static void refusals(void) {
    static const struct {
        const char *text;
        elb_status status;
        uint32_t line, column;
        const char *says;
    } cases[] = {
        {"format = 1\n[joint.a\n", ELB_STATUS_FILE_SYNTAX, 2, 0, "not TOML"},
        {"format = 1\nnmae = \"heron\"\n", ELB_STATUS_UNKNOWN_KEY, 2, 1, "write name"},
        {"format = 1\n[joint.a]\ncommand = [-40, 60]\n", ELB_STATUS_MISSING_KEY, 2, 0, "is missing"},
        {"format = \"one\"\n", ELB_STATUS_WRONG_TYPE, 1, 0, "format"},
        {"format = 2\n", ELB_STATUS_FORMAT_TOO_NEW, 1, 0, "newer"},
        {"format = 1\n[joint.a]\ncommand = [-40, 60]\ndrive = [122, 37]\nrest = 10\n"
         "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n",
         ELB_STATUS_ENDS_SWAPPED, 4, 0, "set inverted"},
        {"format = 1\n[joint.a]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\nchannel = -1\n"
         "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n",
         ELB_STATUS_VALUE_OUTSIDE, 6, 0, "channel is -1"},
        {"format = 1\n[joint.a]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
         "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n"
         "[joint.a.evidence]\nsense = \"oposing\"\n",
         ELB_STATUS_UNKNOWN_WORD, 9, 0, "write one of opposing"},
    };
    size_t i;
    for (i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        elb_robot *robot = NULL;
        elb_error error;
        SAYS(cases[i].status, elb_robot_parse(cases[i].text, strlen(cases[i].text), &robot, &error), error, cases[i].says);
        CHECK(robot == NULL && error.line == cases[i].line);
        CHECK(cases[i].column == 0 || error.column == cases[i].column);
    }
}

/* A file cut off anywhere is read, or refused with a message; never more. */
static void truncated(void) {
    size_t length, whole = strlen(heron);
    int refused = 0;
    for (length = 0; length <= whole; length++) {
        char *part = (char *)malloc(length + 1);
        elb_robot *robot = NULL;
        elb_error error;
        /* Exactly so many bytes, for the tools that watch memory. */
        memcpy(part, heron, length);
        if (elb_robot_parse(part, length, &robot, &error) == ELB_STATUS_OK) {
            elb_robot_free(robot);
        } else {
            refused++;
            CHECK(robot == NULL && strlen(error.message) > 10 && strlen(error.message) < ELB_MESSAGE_ROOM);
        }
        free(part);
    }
    CHECK(refused > 100);
}

static void changing(void) {
    elb_robot *robot = parse(heron), *changed = NULL, *fewer = NULL;
    const elb_joint *joint = NULL;
    elb_joint_config config;
    elb_error error;
    const char *text = NULL;
    size_t n = 0;
    OK(elb_robot_joint(robot, "wing_left", &joint));
    OK(elb_joint_config_of(joint, &config, sizeof config));
    config.travel[0] = 50;
    OK(elb_robot_with_joint(robot, "wing_left", &config, &changed, &error));
    OK(elb_robot_text(changed, &text));
    CHECK(strstr(text, "travel = [50, 119]") != NULL && strstr(text, "# the one that squeaks") != NULL);
    OK(elb_robot_text(robot, &text));
    CHECK(strcmp(text, heron) == 0);
    elb_robot_free(changed);
    OK(elb_robot_with_joint(robot, "neck", &config, &changed, &error));
    OK(elb_robot_joint_count(changed, &n));
    CHECK(n == 3);
    elb_robot_free(changed);
    changed = NULL;
    config.rest = 500;
    EXPECT(ELB_STATUS_REST_OUTSIDE, elb_robot_with_joint(robot, "neck", &config, &changed, &error));
    CHECK(changed == NULL);
    OK(elb_robot_without_joint(robot, "wing_right", &fewer, &error));
    OK(elb_robot_joint_count(fewer, &n));
    CHECK(n == 1);
    elb_robot_free(fewer);
    EXPECT(ELB_STATUS_UNKNOWN_JOINT, elb_robot_without_joint(robot, "neck", &fewer, &error));
    CHECK(strstr(error.message, "no joint is named \"neck\"") != NULL);
    elb_robot_free(robot);
}

/* Somebody writes the file between load and save. */
static void changed_meanwhile(const char *path) {
    elb_robot *robot = parse(heron), *other = NULL, *fewer = NULL, *loaded = NULL;
    elb_error error;
    const elb_joint *joint = NULL;
    elb_joint_config config;
    OK(elb_robot_save(robot, path, &error));
    OK(elb_robot_load(path, &other, &error));
    OK(elb_joint_config_init(&config, sizeof config));
    config.command[0] = -40, config.command[1] = 60, config.drive[0] = 37, config.drive[1] = 122;
    config.servo.angle[0] = 0, config.servo.angle[1] = 180, config.servo.pulse_us[0] = 500, config.servo.pulse_us[1] = 2500;
    config.timer.frame_hz = 50, config.timer.counts_per_frame = 4096;
    OK(elb_robot_with_joint(other, "neck", &config, &fewer, &error));
    OK(elb_robot_save(fewer, path, &error));
    elb_robot_free(fewer);
    OK(elb_robot_without_joint(robot, "wing_right", &fewer, &error));
    OK(elb_robot_save(fewer, path, &error));
    OK(elb_robot_load(path, &loaded, &error));
    OK(elb_robot_joint(loaded, "neck", &joint));
    EXPECT(ELB_STATUS_UNKNOWN_JOINT, elb_robot_joint(loaded, "wing_right", &joint));
    elb_robot_free(loaded);
    elb_robot_free(fewer);
    config.rest = 5;
    OK(elb_robot_with_joint(other, "wing_right", &config, &fewer, &error));
    SAYS(ELB_STATUS_FILE_CHANGED, elb_robot_save(fewer, path, &error), error, "joint wing_right was removed from the file");
    elb_robot_free(fewer);
    elb_robot_free(other);
    elb_robot_free(robot);
    CHECK(remove(path) == 0);
}

static void too_long(void) {
    const size_t length = (8u << 20) + 1;
    char *text = malloc(length);
    elb_robot *robot = NULL;
    elb_error error;
    CHECK(text != NULL);
    if (text == NULL) return;
    memset(text, '\n', length);
    SAYS(ELB_STATUS_FILE_TOO_LONG, elb_robot_parse(text, length, &robot, &error), error, "divide the robot into several files");
    free(text);
}

static void disk(void) {
    elb_robot *robot = parse(heron), *loaded = NULL;
    elb_error error;
    const char *text = NULL, *folder = getenv("ELB_TEST_FOLDER");
    char path[4096];
    snprintf(path, sizeof path, "%s/heron.toml", folder ? folder : ".");
    OK(elb_robot_save(robot, path, &error));
    OK(elb_robot_load(path, &loaded, &error));
    OK(elb_robot_text(loaded, &text));
    CHECK(strcmp(text, heron) == 0);
    elb_robot_free(loaded);
    CHECK(remove(path) == 0);
    SAYS(ELB_STATUS_FILE_ACCESS, elb_robot_load(path, &loaded, &error), error, "heron.toml");
    changed_meanwhile(path);
    too_long();
    EXPECT(ELB_STATUS_FILE_ACCESS, elb_robot_save(robot, "/nowhere/at/all/heron.toml", &error));
    EXPECT(ELB_STATUS_NOT_UTF8, elb_robot_parse("format = 1\n# \xfc\n", 15, &loaded, &error));
    CHECK(error.line == 2 && error.column == 3 && strstr(error.message, "the byte 0xFC is not UTF-8 text; save the file as UTF-8") != NULL);
    EXPECT(ELB_STATUS_NOT_UTF8, elb_robot_load("\xff", &loaded, &error));
    elb_robot_free(robot);
}

static void findings(void) {
    elb_robot *robot = parse(heron);
    elb_findings *found = NULL;
    elb_finding finding;
    elb_error error;
    size_t n = 0, waived = 0, i;
    int rest_found = 0;
    OK(elb_robot_check(robot, NULL, &found, &error));
    OK(elb_findings_count(found, &n));
    CHECK(n > 2);
    for (i = 0; i < n; i++) {
        OK(elb_findings_at(found, i, &finding));
        CHECK(strlen(finding.rule) > 3 && strlen(finding.message) > 3 && strlen(finding.hint) > 3);
        CHECK(finding.severity <= ELB_SEVERITY_ERROR && finding.waiver == NULL);
        if (strcmp(finding.rule, "rest-outside-travel") == 0) {
            CHECK(strcmp(finding.joint, "wing_right") == 0 && finding.line == 16);
            CHECK(finding.severity == ELB_SEVERITY_ERROR);
            rest_found = 1;
        }
    }
    CHECK(rest_found);
    EXPECT(ELB_STATUS_ABSENT, elb_findings_at(found, n, &finding));
    OK(elb_findings_waived_count(found, &waived));
    CHECK(waived == 1);
    OK(elb_findings_waived_at(found, 0, &finding));
    CHECK(strcmp(finding.rule, "rate-missing") == 0 && strcmp(finding.waiver, "slow by its spring") == 0);
    EXPECT(ELB_STATUS_ABSENT, elb_findings_waived_at(found, 1, &finding));
    elb_findings_free(found);
    elb_findings_free(NULL);
    OK(elb_robot_check(robot, "2026-11-20", &found, &error));
    elb_findings_free(found);
    EXPECT(ELB_STATUS_WRONG_TYPE, elb_robot_check(robot, "20.11.2026", &found, &error));
    CHECK(strstr(error.message, "write a day of the calendar, like 2026-11-20") != NULL);
    elb_robot_free(robot);
}

void test_robot(void) {
    found_once();
    all_at_once();
    reading();
    refusals();
    truncated();
    changing();
    disk();
    findings();
}
