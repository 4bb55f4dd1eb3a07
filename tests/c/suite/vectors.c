/* The shared vectors: every line of tests/data/vectors/..._f64.txt, bit for bit. Valid C99 and C++17. */
#include "check.h"

#ifdef __cplusplus
extern "C" void test_vectors(void);
#endif

enum { MOST_WORDS = 80, MOST_KNOTS = 40, BATCH = 64 };

/* Transmission and feedback of the next joint. */
static double knots[2 * MOST_KNOTS], feedback_knots[2 * MOST_KNOTS];

/* A `T` line: kind, a word, numbers. */
static void read_transmission(elb_joint_config *config, char **words, size_t n) {
    static const char *const rules[] = {"parabola", "mean-chord", "harmonic-chord"};
    size_t i;
    config->transmission.kind = kind_of(words[1]);
    for (i = 0; i < 3; i++) {
        if (strcmp(words[2], rules[i]) == 0) config->transmission.slopes = (uint32_t)i;
    }
    config->transmission.branch = strcmp(words[2], "right") == 0 ? ELB_BRANCH_RIGHT : ELB_BRANCH_LEFT;
    if (config->transmission.kind == ELB_TRANSMISSION_CURVE) {
        CHECK((n - 3) / 2 <= MOST_KNOTS);
        for (i = 3; i < n; i++) knots[i - 3] = read_bits(words[i]);
        config->transmission.knots = knots;
        config->transmission.n_knots = (n - 3) / 2;
    } else {
        for (i = 3; i < n; i++) config->transmission.dimensions[i - 3] = read_bits(words[i]);
    }
}

/* An `F` line. */
static void read_feedback(elb_joint_config *config, char **words, size_t n) {
    size_t i;
    config->feedback.inverted = (uint32_t)strtoul(words[1], NULL, 10);
    config->feedback.adc_bits = (uint32_t)strtoul(words[2], NULL, 10);
    config->feedback.reading[0] = read_bits(words[3]);
    config->feedback.reading[1] = read_bits(words[4]);
    config->feedback.angle[0] = read_bits(words[5]);
    config->feedback.angle[1] = read_bits(words[6]);
    config->feedback.pot_ohm = read_bits(words[7]);
    config->feedback.load_ohm = read_bits(words[8]);
    if (n > 9) {
        CHECK((n - 9) / 2 <= MOST_KNOTS);
        for (i = 9; i < n; i++) feedback_knots[i - 9] = read_bits(words[i]);
        config->feedback.knots = feedback_knots;
        config->feedback.n_knots = (n - 9) / 2;
    }
}

static elb_joint *read_joint(elb_joint_config config, char **words) {
    elb_joint *joint = NULL;
    elb_error error;
    uint32_t lowest = 0, highest = 0;
    config.command[0] = read_bits(words[1]);
    config.command[1] = read_bits(words[2]);
    config.drive[0] = read_bits(words[3]);
    config.drive[1] = read_bits(words[4]);
    config.travel[0] = read_bits(words[5]);
    config.travel[1] = read_bits(words[6]);
    config.servo.angle[0] = read_bits(words[7]);
    config.servo.angle[1] = read_bits(words[8]);
    config.servo.pulse_us[0] = read_bits(words[9]);
    config.servo.pulse_us[1] = read_bits(words[10]);
    config.rest = read_bits(words[11]);
    config.timer.frame_hz = read_bits(words[12]);
    config.inverted = (uint32_t)strtoul(words[13], NULL, 10);
    config.timer.counts_per_frame = (uint32_t)strtoul(words[14], NULL, 10);
    OK(elb_joint_new(&config, &joint, &error));
    OK(elb_joint_count_range(joint, &lowest, &highest));
    CHECK(lowest == strtoul(words[15], NULL, 10));
    CHECK(highest == strtoul(words[16], NULL, 10));
    return joint;
}

/* One command by every way that there is towards the motor. */
static void check_command(const elb_joint *joint, char **words) {
    const double command = read_bits(words[1]);
    const elb_status status = (elb_status)strtol(words[2], NULL, 10);
    const elb_conversion mark = {-1.0, 77, 78};
    elb_conversion drive = mark, pulse = mark, counts = mark;
    uint32_t wide[BATCH], wanted, lowest, highest;
    uint16_t narrow[BATCH];
    double commands[BATCH], drives[BATCH], pulses[BATCH], back = 0;
    size_t i, done = 7;

    for (i = 0; i < BATCH; i++) commands[i] = command;
    EXPECT(status, elb_joint_drive(joint, command, &drive));
    EXPECT(status, elb_joint_pulse_us(joint, command, &pulse));
    EXPECT(status, elb_joint_counts(joint, command, &counts));
    EXPECT(status, elb_joint_drive_batch(joint, commands, BATCH, drives, &done));
    CHECK(done == (status == ELB_STATUS_OK ? (size_t)BATCH : 0));
    EXPECT(status, elb_joint_pulse_us_batch(joint, commands, BATCH, pulses, &done));
    EXPECT(status, elb_joint_counts_batch_u32(joint, commands, BATCH, wide, &done));
    if (status != ELB_STATUS_OK) {
        /* Refused: results are untouched. */
        CHECK(memcmp(&drive, &mark, sizeof mark) == 0 && memcmp(&pulse, &mark, sizeof mark) == 0);
        CHECK(memcmp(&counts, &mark, sizeof mark) == 0);
        return;
    }
    CHECK(drive.flags == strtoul(words[3], NULL, 10) && drive.reserved == 0 && pulse.flags == drive.flags);
    CHECK(same(drive.value, words[4]));
    CHECK(same(pulse.value, words[5]));
    wanted = (uint32_t)strtoul(words[6], NULL, 10);
    CHECK(counts.value == wanted && counts.flags == drive.flags && counts.reserved == 0);
    OK(elb_joint_command_from_counts(joint, wanted, &back));
    CHECK(same(back, words[7]));
    OK(elb_joint_count_range(joint, &lowest, &highest));
    EXPECT(highest > 65535 ? ELB_STATUS_COUNT_TOO_WIDE : ELB_STATUS_OK,
           elb_joint_counts_batch(joint, commands, BATCH, narrow, &done));
    for (i = 0; i < BATCH; i++) {
        if (!same(drives[i], words[4]) || !same(pulses[i], words[5]) || wide[i] != wanted ||
            (highest <= 65535 && narrow[i] != wanted)) {
            CHECK(0 && "a batch differs from the vector");
            break;
        }
    }
}

/* One value on its way back. */
static void check_back(const elb_joint *joint, char **words) {
    const double value = read_bits(words[1]);
    double one = 0, many[BATCH], values[BATCH];
    size_t i;
    for (i = 0; i < BATCH; i++) values[i] = value;
    OK(elb_joint_command_from_drive(joint, value, &one));
    CHECK(same(one, words[2]));
    OK(elb_joint_command_from_drive_batch(joint, values, BATCH, many));
    CHECK(same(many[BATCH - 1], words[2]));
    OK(elb_joint_command_from_pulse_us(joint, value, &one));
    CHECK(same(one, words[3]));
    OK(elb_joint_command_from_pulse_us_batch(joint, values, BATCH, many));
    CHECK(same(many[BATCH - 1], words[3]));
}

/* What a step of command is worth. */
static void check_derivative(const elb_joint *joint, char **words) {
    double slope = 0;
    OK(elb_joint_drive_per_command(joint, read_bits(words[1]), &slope));
    CHECK(same(slope, words[2]));
}

/* One reading. */
static void check_reading(const elb_joint *joint, char **words) {
    const double reading = read_bits(words[1]);
    double angle = 0, command = 0, back = 0;
    OK(elb_joint_angle_from_reading(joint, reading, &angle));
    CHECK(same(angle, words[2]));
    OK(elb_joint_command_from_reading(joint, reading, &command));
    CHECK(same(command, words[3]));
    OK(elb_joint_reading_from_command(joint, command, &back));
    CHECK(same(back, words[4]));
}

static void check_file(const char *name, int least, int least_refused) {
    char line[4096], *words[MOST_WORDS] = {0};
    elb_joint *joint = NULL;
    elb_joint_config config;
    const int fewer = getenv("ELB_TEST_FEWER") != NULL;
    int commands = 0, refused = 0, joints = 0, derivatives = 0, seen = 0;
    char begins = 'J';
    FILE *file;
    file = open_data("vectors", name);
    if (file == NULL) return;
    OK(elb_joint_config_init(&config, sizeof config));
    /* Under valgrind, ELB_TEST_FEWER asks for every 40th joint only. */
    while (fgets(line, sizeof line, file) != NULL) {
        size_t n = 0;
        char *word;
        if (line[0] == '#') continue;
        /* Where joints have a transmission they begin with it. */
        if (line[0] == 'T') begins = 'T';
        if (line[0] == begins) seen++;
        if (fewer && seen % 40 != 1) continue;
        for (word = strtok(line, " \n"); word != NULL && n < MOST_WORDS; word = strtok(NULL, " \n")) words[n++] = word;
        if (line[0] == 'J' && n == 17) {
            elb_joint_free(joint);
            joint = read_joint(config, words);
            OK(elb_joint_config_init(&config, sizeof config));
            joints++;
        } else if (line[0] == 'T' && n > 2) {
            read_transmission(&config, words, n);
        } else if (line[0] == 'F' && n > 8) {
            read_feedback(&config, words, n);
        } else if (line[0] == 'R' && n == 5) {
            check_reading(joint, words);
        } else if (line[0] == 'C' && n == 8) {
            check_command(joint, words);
            commands++;
            refused += strcmp(words[2], "0") != 0;
        } else if (line[0] == 'B' && n == 4) {
            check_back(joint, words);
        } else if (line[0] == 'D' && n == 3) {
            check_derivative(joint, words);
            derivatives++;
        } else {
            CHECK(0 && "a line of no known kind");
        }
    }
    fclose(file);
    elb_joint_free(joint);
    CHECK(fewer || (commands >= least && refused >= least_refused && derivatives >= 3 * joints));
    printf("   %d joints, %d commands of which %d refused, %d derivatives\n", joints, commands, refused, derivatives);
}

void test_vectors(void) {
    check_file("conversion_f64.txt", 10000, 500);
    check_file("transmission_f64.txt", 3000, 200);
}
