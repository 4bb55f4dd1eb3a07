/* Curves, linkages and choices: what Rust finds, published dimensions, and the joints made of them. fit_sides.c has the rest. */
#include "check.h"

enum { MOST_READINGS = 64, MOST_GUESSES = 4, MOST_WORDS = 80, CRITERION_WORD = 5 };

/* One set of the vector file, and what was fitted to it. */
typedef struct {
    double drive[MOST_READINGS], measured[MOST_READINGS];
    size_t n;
    elb_mechanism guesses[MOST_GUESSES];
    size_t n_guesses;
    elb_curve *curve;
    elb_linkage *linkage;
    elb_choice *choice;
    /* How many knots, dimensions, candidates and reasons have been compared. */
    size_t knots, dimensions, candidates, reasons;
} set;

static void free_set(set *s) {
    size_t n = 0;
    elb_curve_values values;
    if (s->curve != NULL) {
        OK(elb_curve_values_of(s->curve, &values));
        CHECK(values.n_knots == s->knots);
    }
    if (s->choice != NULL) {
        OK(elb_choice_count(s->choice, &n));
        CHECK(n == s->candidates);
        OK(elb_choice_reason_count(s->choice, &n));
        CHECK(n == s->reasons);
    }
    elb_curve_free(s->curve);
    elb_linkage_free(s->linkage);
    elb_choice_free(s->choice);
    memset(s, 0, sizeof *s);
}

/* Kind, side, bits, dimensions. */
static elb_mechanism read_mechanism(char **words, size_t n) {
    elb_mechanism mechanism;
    size_t i;
    memset(&mechanism, 0, sizeof mechanism);
    mechanism.kind = kind_of(words[0]);
    mechanism.branch = strcmp(words[1], "right") == 0 ? ELB_BRANCH_RIGHT : ELB_BRANCH_LEFT;
    mechanism.free = (uint32_t)strtoul(words[2], NULL, 10);
    for (i = 3; i < n && i < 8; i++) mechanism.dimensions[i - 3] = read_bits(words[i]);
    return mechanism;
}

static int close_to(double got, const char *word) {
    const double wanted = read_bits(word);
    return got == wanted || fabs(got - wanted) <= 1e-12 * fabs(wanted);
}

static void check_curve(set *s, char **words, size_t n) {
    elb_curve_values values;
    double criterion = 0;
    size_t i;
    OK(elb_curve_new(s->drive, s->measured, NULL, s->n, 6, &s->curve, NULL));
    OK(elb_curve_values_of(s->curve, &values));
    CHECK(same(values.residual_sd, words[1]) && same(values.sum_of_squares, words[2]));
    CHECK(values.dof == strtoull(words[3], NULL, 10) && values.n_knots == strtoull(words[4], NULL, 10));
    CHECK(values.n_tried == n - CRITERION_WORD);
    for (i = 0; i < values.n_tried && i + CRITERION_WORD < n; i++) {
        OK(elb_curve_criterion(s->curve, i, &criterion));
        CHECK(close_to(criterion, words[i + CRITERION_WORD]));
    }
    EXPECT(ELB_STATUS_ABSENT, elb_curve_criterion(s->curve, i, &criterion));
    EXPECT(ELB_STATUS_ABSENT, elb_curve_knot_at(s->curve, (size_t)values.n_knots, &(elb_curve_knot){0, 0, 0}));
}

static void check_knot(set *s, char **words) {
    elb_curve_knot knot;
    double expected = 0;
    OK(elb_curve_knot_at(s->curve, s->knots++, &knot));
    CHECK(same(knot.drive, words[1]) && same(knot.measured, words[2]) && same(knot.u, words[3]));
    OK(elb_curve_expected(s->curve, knot.drive, &expected));
    CHECK(bits_of(expected) == bits_of(knot.measured));
}

/* From the fit to a joint, and through a robot file. */
static void through_a_file(const elb_joint_config *config, const double *drive, const double *measured, size_t n, double within) {
    const char *empty = "format = 1\n";
    elb_robot *robot = NULL, *with = NULL, *again = NULL;
    const elb_joint *joint = NULL;
    const char *text = NULL;
    elb_error error;
    double low = measured[0], high = measured[0], command = 0;
    size_t i;
    error.message[0] = 0;
    OK(elb_robot_parse(empty, strlen(empty), &robot, NULL));
    OK(elb_robot_with_joint(robot, "bent", config, &with, &error));
    if (with == NULL) {
        printf("%s\n", error.message);
        elb_robot_free(robot);
        return;
    }
    OK(elb_robot_text(with, &text));
    OK(elb_robot_parse(text, strlen(text), &again, NULL));
    OK(elb_robot_joint(again, "bent", &joint));
    for (i = 0; i < n; i++) {
        if (measured[i] < low) low = measured[i];
        if (measured[i] > high) high = measured[i];
    }
    /* What the joint says of a drive angle is what was measured there, but for the scatter. */
    for (i = 0; i < n; i++) {
        OK(elb_joint_command_from_drive(joint, drive[i], &command));
        CHECK(fabs(command - measured[i]) <= within);
    }
    elb_robot_free(robot);
    elb_robot_free(with);
    elb_robot_free(again);
}

static elb_joint_config servo_of(const double *drive, size_t n) {
    elb_joint_config config;
    size_t i;
    OK(elb_joint_config_init(&config, sizeof config));
    config.servo.angle[0] = config.servo.angle[1] = drive[0];
    for (i = 0; i < n; i++) {
        if (drive[i] - 1 < config.servo.angle[0]) config.servo.angle[0] = drive[i] - 1;
        if (drive[i] + 1 > config.servo.angle[1]) config.servo.angle[1] = drive[i] + 1;
    }
    config.servo.pulse_us[0] = 500, config.servo.pulse_us[1] = 2500;
    config.timer.counts_per_frame = 4096;
    return config;
}

static void check_curve_joint(const set *s, char **words, size_t n) {
    elb_joint_config config = servo_of(s->drive, s->n), kept, old;
    double knots[2 * ELB_MOST_JOINT_KNOTS], few[2] = {7, 7}, departure = -1, low = s->measured[0], high = low;
    elb_curve_values values;
    elb_joint *joint = NULL;
    elb_error error;
    size_t i;
    OK(elb_curve_joint(s->curve, read_bits(words[1]), read_bits(words[2]), &config, knots, ELB_MOST_JOINT_KNOTS, &departure, NULL));
    CHECK(same(config.command[0], words[1]) && same(config.command[1], words[2]));
    CHECK(same(config.drive[0], words[3]) && same(config.drive[1], words[4]) && same(departure, words[5]));
    CHECK(config.inverted == strtoul(words[6], NULL, 10) && config.transmission.kind == ELB_TRANSMISSION_CURVE);
    CHECK(config.transmission.n_knots == (n - 7) / 2 && config.transmission.knots == knots);
    for (i = 7; i < n; i++) CHECK(same(knots[i - 7], words[i]));
    OK(elb_joint_new(&config, &joint, NULL));
    elb_joint_free(joint);

    /* Measured degrees as commands. */
    for (i = 0; i < s->n; i++) {
        if (s->measured[i] < low) low = s->measured[i];
        if (s->measured[i] > high) high = s->measured[i];
    }
    kept = config;
    EXPECT(ELB_STATUS_NO_ROOM, elb_curve_joint(s->curve, low, high, &config, few, 1, NULL, &error));
    CHECK(strstr(error.message, "room for 1 knots") != NULL && few[0] == 7 && memcmp(&kept, &config, sizeof kept) == 0);
    EXPECT(ELB_STATUS_OPTION_OUTSIDE, elb_curve_joint(s->curve, high, low, &config, knots, ELB_MOST_JOINT_KNOTS, NULL, &error));
    old = config;
    old.size = offsetof(elb_joint_config, transmission);
    EXPECT(ELB_STATUS_BAD_SIZE, elb_curve_joint(s->curve, low, high, &old, knots, ELB_MOST_JOINT_KNOTS, NULL, &error));
    CHECK(strstr(error.message, "elb_joint_config.size") != NULL);
    OK(elb_curve_values_of(s->curve, &values));
    {
        elb_curve_knot first, last;
        OK(elb_curve_knot_at(s->curve, 0, &first));
        OK(elb_curve_knot_at(s->curve, (size_t)values.n_knots - 1, &last));
        low = first.measured < last.measured ? first.measured : last.measured;
        high = first.measured < last.measured ? last.measured : first.measured;
    }
    OK(elb_curve_joint(s->curve, low, high, &config, knots, ELB_MOST_JOINT_KNOTS, &departure, NULL));
    config.rest = low;
    /* No reading of these sets is further off than three standard deviations. */
    through_a_file(&config, s->drive, s->measured, s->n, 3 * values.residual_sd + departure);
}

static void check_linkage(set *s, char **words, size_t n) {
    elb_linkage_values values;
    elb_mechanism found, wanted;
    OK(elb_linkage_new(s->drive, s->measured, NULL, s->n, &s->guesses[0], &s->linkage, NULL));
    OK(elb_linkage_values_of(s->linkage, &values));
    CHECK(same(values.residual_sd, words[1]) && same(values.sum_of_squares, words[2]));
    CHECK(values.dof == strtoull(words[3], NULL, 10));
    CHECK(same(values.offset, words[4]) && same(values.u_offset, words[5]));
    CHECK(same(values.gain, words[6]) && same(values.u_gain, words[7]));
    CHECK(same(values.drive[0], words[8]) && same(values.drive[1], words[9]));
    CHECK(same(values.measured[0], words[10]) && same(values.measured[1], words[11]));
    OK(elb_linkage_mechanism(s->linkage, &found));
    wanted = read_mechanism(words + 12, n - 12);
    CHECK(memcmp(&found, &wanted, sizeof found) == 0);
}

static void check_dimension(set *s, char **words) {
    elb_dimension dimension;
    elb_mechanism found;
    elb_linkage_values values;
    OK(elb_linkage_dimension(s->linkage, s->dimensions++, &dimension));
    CHECK(strcmp(dimension.name, words[1]) == 0 && same(dimension.value, words[2]) && same(dimension.u, words[3]));
    OK(elb_linkage_mechanism(s->linkage, &found));
    CHECK(dimension.number < 5 && found.dimensions[dimension.number] == dimension.value && dimension.reserved == 0);
    CHECK((found.free >> dimension.number & 1) == 1);
    OK(elb_linkage_values_of(s->linkage, &values));
    EXPECT(ELB_STATUS_ABSENT, elb_linkage_dimension(s->linkage, (size_t)values.n_found, &dimension));
}

static void check_linkage_joint(const set *s, char **words) {
    elb_joint_config config = servo_of(s->drive, s->n), kept;
    elb_linkage_values values;
    elb_error error;
    double lower = 0, upper = 0;
    OK(elb_linkage_command(s->linkage, &lower, &upper));
    CHECK(same(lower, words[1]) && same(upper, words[2]));
    OK(elb_linkage_joint(s->linkage, lower, upper, &config, NULL));
    CHECK(bits_of(config.command[0]) == bits_of(lower) && bits_of(config.command[1]) == bits_of(upper));
    CHECK(same(config.drive[0], words[3]) && same(config.drive[1], words[4]));
    CHECK(config.inverted == strtoul(words[5], NULL, 10) && config.transmission.kind == s->guesses[0].kind);
    CHECK(config.transmission.knots == NULL && config.transmission.n_knots == 0);
    config.rest = lower;
    OK(elb_linkage_values_of(s->linkage, &values));
    through_a_file(&config, s->drive, s->measured, s->n, 3 * values.residual_sd);
    kept = config;
    EXPECT(ELB_STATUS_OPTION_OUTSIDE, elb_linkage_joint(s->linkage, upper, lower, &config, &error));
    /* All but a tendon have a dead centre somewhere. */
    if (config.transmission.kind != ELB_TRANSMISSION_SPOOL) {
        EXPECT(ELB_STATUS_TRANSMISSION_INVALID, elb_linkage_joint(s->linkage, lower, lower + 400, &config, &error));
    }
    CHECK(memcmp(&kept, &config, sizeof kept) == 0);
}

static void check_candidate(set *s, char **words) {
    elb_candidate candidate;
    const elb_line *line = NULL;
    const elb_curve *curve = NULL;
    const elb_linkage *linkage = NULL;
    elb_line_values line_values;
    elb_curve_values curve_values;
    elb_linkage_values linkage_values;
    double residual_sd = INFINITY;
    const size_t i = s->candidates++;
    OK(elb_choice_candidate(s->choice, i, &candidate));
    CHECK(candidate.transmission == kind_of(words[1]) && candidate.refused == strtoul(words[2], NULL, 10));
    CHECK(candidate.parameters == strtoull(words[3], NULL, 10));
    CHECK(same(candidate.residual_sd, words[4]) && close_to(candidate.criterion, words[5]));
    /* Each is what its own calls read, and nothing else. */
    EXPECT(i == 0 ? ELB_STATUS_OK : ELB_STATUS_ABSENT, elb_choice_line(s->choice, i, &line));
    EXPECT(i == 1 ? ELB_STATUS_OK : ELB_STATUS_ABSENT, elb_choice_curve(s->choice, i, &curve));
    EXPECT(i > 1 && !candidate.refused ? ELB_STATUS_OK : ELB_STATUS_ABSENT, elb_choice_linkage(s->choice, i, &linkage));
    if (line != NULL) {
        OK(elb_line_values_of(line, &line_values));
        residual_sd = line_values.residual_sd;
    }
    if (curve != NULL) {
        OK(elb_curve_values_of(curve, &curve_values));
        residual_sd = curve_values.residual_sd;
    }
    if (linkage != NULL) {
        OK(elb_linkage_values_of(linkage, &linkage_values));
        residual_sd = linkage_values.residual_sd;
    }
    CHECK(same(residual_sd, words[4]));
}

static void vectors(void) {
    char line[4096], whole[4096], *words[MOST_WORDS] = {0};
    static set s;
    int sets = 0, linkages = 0, reasons = 0;
    FILE *file;
    file = open_data("vectors", "fits_f64.txt");
    if (file == NULL) return;
    while (fgets(line, sizeof line, file) != NULL) {
        size_t n = 0, best = 99;
        char *word;
        if (line[0] == '#') continue;
        line[strcspn(line, "\n")] = 0;
        strcpy(whole, line);
        for (word = strtok(line, " "); word != NULL && n < MOST_WORDS; word = strtok(NULL, " ")) words[n++] = word;
        if (line[0] == 'S') {
            free_set(&s);
            sets++;
        } else if (line[0] == 'R' && n == 3 && s.n < MOST_READINGS) {
            s.drive[s.n] = read_bits(words[1]);
            s.measured[s.n++] = read_bits(words[2]);
        } else if (line[0] == 'G' && n > 4 && s.n_guesses < MOST_GUESSES) {
            s.guesses[s.n_guesses++] = read_mechanism(words + 1, n - 1);
        } else if (line[0] == 'C' && n > 5) {
            check_curve(&s, words, n);
        } else if (line[0] == 'K' && n == 4) {
            check_knot(&s, words);
        } else if (line[0] == 'J' && n > 7) {
            check_curve_joint(&s, words, n);
        } else if (line[0] == 'L' && n > 15) {
            check_linkage(&s, words, n);
            linkages++;
        } else if (line[0] == 'D' && n == 4) {
            check_dimension(&s, words);
        } else if (line[0] == 'M' && n == 6) {
            check_linkage_joint(&s, words);
        } else if (line[0] == 'E' && n == 4) {
            double expected = 0, drive = 0;
            OK(elb_linkage_expected(s.linkage, read_bits(words[1]), &expected));
            OK(elb_linkage_drive(s.linkage, expected, &drive));
            CHECK(same(expected, words[2]) && same(drive, words[3]));
        } else if (line[0] == 'H' && n == 2) {
            OK(elb_choice_new(s.drive, s.measured, NULL, s.n, s.guesses, s.n_guesses, 6, &s.choice, NULL));
            OK(elb_choice_best(s.choice, &best));
            CHECK(best == strtoull(words[1], NULL, 10));
        } else if (line[0] == 'W' && n == 6) {
            check_candidate(&s, words);
        } else if (line[0] == 'T') {
            const char *text = "";
            OK(elb_choice_reason(s.choice, s.reasons++, &text));
            CHECK(strcmp(text, whole + 2) == 0);
            reasons++;
        } else {
            CHECK(0 && "a line of no known kind");
        }
    }
    fclose(file);
    free_set(&s);
    CHECK(sets >= 7 && linkages >= 4 && reasons > sets);
}

/* Tables of mechanisms (tests/data/kinematics, where their sources stand): dimensions that a ruler has 2 % wrong are found
 * from the table's own angles. */
static void published(const char *name, const char *columns, double low, double high, const elb_mechanism *truth, double within) {
    enum { MOST = 400 };
    static double drive[MOST], measured[MOST];
    char line[512];
    elb_mechanism start = *truth, found;
    elb_linkage *linkage = NULL;
    elb_error error;
    size_t n = 0, i;
    FILE *file;
    file = open_data("kinematics", name);
    CHECK(file != NULL && fgets(line, sizeof line, file) != NULL);
    while (file != NULL && n < MOST && fgets(line, sizeof line, file) != NULL) {
        double turned = 0, branch = 0, moved = 0;
        if (sscanf(line, columns, &turned, &branch, &moved) == 3 && branch > 0 && turned >= low && turned <= high) {
            drive[n] = 90 + 0.5 * turned;
            measured[n++] = moved;
        }
    }
    if (file != NULL) fclose(file);
    CHECK(n >= 7);
    for (i = 0; i < 5; i++) {
        if (truth->free >> i & 1) start.dimensions[i] *= 1.02;
    }
    error.message[0] = 0;
    OK(elb_linkage_new(drive, measured, NULL, n, &start, &linkage, &error));
    if (linkage == NULL) {
        printf("%s: %s\n", name, error.message);
        return;
    }
    OK(elb_linkage_mechanism(linkage, &found));
    for (i = 0; i < 5; i++) {
        CHECK(fabs(found.dimensions[i] - truth->dimensions[i]) <= within * (1 + fabs(truth->dimensions[i])));
    }
    elb_linkage_free(linkage);
}

static void kinematics(void) {
    elb_mechanism engine = {{1.6535, 6.024, 0, 0, 0}, ELB_TRANSMISSION_SLIDER_CRANK, ELB_BRANCH_LEFT, 2, 0};
    elb_mechanism offset = {{12, 45, 5, 0, 0}, ELB_TRANSMISSION_SLIDER_CRANK, ELB_BRANCH_LEFT, 2 + 4, 0};
    /* A textbook's crank and rocker; the rocker's angle is measured from the line of the pivots. */
    elb_mechanism rocker = {{40, 120, 80, 100, 0}, ELB_TRANSMISSION_FOUR_BAR, ELB_BRANCH_LEFT, 1 + 2, 0};
    published("fourbar_crank_rocker.csv", "%lf,%lf,%*[^,],%lf", 30, 90, &rocker, 1e-6);
    published("slider_crank_engine_forward.csv", "%lf,%lf,%lf", 50, 130, &engine, 1e-6);
    published("slider_crank_offset_forward.csv", "%lf,%lf,%lf", 50, 130, &offset, 1e-6);
}

void test_fits(void) {
    vectors();
    kinematics();
}
