/* What a control cycle may call takes no memory, no lock and no system call of one: the allocator, the locks of pthread and the
 * futex are put in front of the real ones and counted. Every transmission there is, feedback, arrays, ramps, follow checks, blocks, all joints of
 * a robot, and each step of a whole bring-up, also of one that was saved and taken up again, but the two that fit. */
#define _GNU_SOURCE
#include "../../bindings/c/examples/simulated.h"
#include "suite/check.h"
#include <dlfcn.h>
#include <errno.h>
#include <pthread.h>
#include <stdarg.h>
#include <sys/syscall.h>
#include <unistd.h>

int checks_failed = 0;
int checks_made = 0;

static unsigned long memory, locks;

extern void *__libc_malloc(size_t);
extern void *__libc_calloc(size_t, size_t);
extern void *__libc_realloc(void *, size_t);
extern void *__libc_memalign(size_t, size_t);
extern void __libc_free(void *);

void *malloc(size_t size) { return memory++, __libc_malloc(size); }
void *calloc(size_t n, size_t size) { return memory++, __libc_calloc(n, size); }
void *realloc(void *old, size_t size) { return memory++, __libc_realloc(old, size); }
void *memalign(size_t align, size_t size) { return memory++, __libc_memalign(align, size); }
void *aligned_alloc(size_t align, size_t size) { return memory++, __libc_memalign(align, size); }
int posix_memalign(void **out, size_t align, size_t size) {
    memory++;
    *out = __libc_memalign(align, size);
    return *out == NULL ? ENOMEM : 0;
}
void free(void *old) {
    if (old != NULL) memory++;
    __libc_free(old);
}

/* Finds the real one at the first call, then counts. */
#define LOCK(name, handle)                                                                \
    int name(handle *lock) {                                                              \
        static int (*real)(handle *);                                                     \
        if (real == NULL) *(void **)(void *)&real = dlsym(RTLD_NEXT, #name);              \
        locks++;                                                                          \
        return real(lock);                                                                \
    }
LOCK(pthread_mutex_lock, pthread_mutex_t)
LOCK(pthread_mutex_trylock, pthread_mutex_t)
LOCK(pthread_rwlock_rdlock, pthread_rwlock_t)
LOCK(pthread_rwlock_wrlock, pthread_rwlock_t)
LOCK(pthread_spin_lock, pthread_spinlock_t)

/* Rust's own locks wait by it. */
long syscall(long number, ...) {
    static long (*real)(long, long, long, long, long, long, long);
    long a[6];
    va_list list;
    int i;
    if (real == NULL) *(void **)(void *)&real = dlsym(RTLD_NEXT, "syscall");
    va_start(list, number);
    for (i = 0; i < 6; i++) a[i] = va_arg(list, long);
    va_end(list);
    if (number == SYS_futex) locks++;
    return real(number, a[0], a[1], a[2], a[3], a[4], a[5]);
}

/* Calls that must be quiet. */
#define QUIET(call)                                                                                   \
    do {                                                                                              \
        const unsigned long memory_ = memory, locks_ = locks;                                         \
        const elb_status got_ = (call);                                                               \
        const unsigned long took_ = memory - memory_, locked_ = locks - locks_;                       \
        checks_made++;                                                                                \
        if (got_ != ELB_STATUS_OK || took_ != 0 || locked_ != 0) {                                    \
            checks_failed++;                                                                          \
            printf("%s:%d: %s: %s, %lu times memory, %lu locks\n", __FILE__, __LINE__, #call,         \
                   elb_status_name(got_), took_, locked_);                                            \
        }                                                                                             \
    } while (0)
/* The same of a call that is refused. */
#define QUIETLY_REFUSED(status, call) QUIET((call) == (status) ? ELB_STATUS_OK : ELB_STATUS_OTHER)

static void conversions(const elb_joint *joint) {
    static double in[1000], out[1000];
    static float in32[1000];
    static uint16_t narrow[1000];
    static uint32_t wide[1000];
    elb_conversion conversion;
    elb_tally tally;
    double value = 0, upper;
    uint32_t flag = 0, state, lowest, highest;
    size_t done;
    int i;
    for (i = 0; i < 1000; i++) in[i] = 0.2 * i - 60, in32[i] = (float)in[i];
    for (i = 0; i < 1000; i += 7) {
        QUIET(elb_joint_drive(joint, in[i], &conversion));
        QUIET(elb_joint_pulse_us(joint, in[i], &conversion));
        QUIET(elb_joint_counts(joint, in[i], &conversion));
        QUIET(elb_joint_drive_per_command(joint, in[i], &value));
        QUIET(elb_joint_command_from_drive(joint, 37 + 0.085 * i, &value));
        QUIET(elb_joint_command_from_pulse_us(joint, 900 + i, &value));
        QUIET(elb_joint_command_from_counts(joint, (uint32_t)(187 + i / 6), &value));
        QUIET(elb_joint_counts_from_drive(joint, 37 + 0.085 * i, &conversion, &value));
    }
    QUIET(elb_joint_count_range(joint, &lowest, &highest));
    QUIET(elb_joint_valid_range(joint, &value, &upper));
    QUIETLY_REFUSED(ELB_STATUS_NOT_FINITE, elb_joint_counts(joint, NAN, &conversion));
    QUIET(elb_joint_drive_batch(joint, in, 1000, out, &done));
    QUIET(elb_joint_drive_batch_f32(joint, in32, 1000, out, &done));
    QUIET(elb_joint_pulse_us_batch(joint, in, 1000, out, &done));
    QUIET(elb_joint_pulse_us_batch_f32(joint, in32, 1000, out, &done));
    QUIET(elb_joint_counts_batch_u32(joint, in, 1000, wide, &done));
    QUIET(elb_joint_counts_batch_f32_u32(joint, in32, 1000, wide, &done));
    QUIET(elb_joint_counts_batch_f32(joint, in32, 1000, narrow, &done));
    QUIET(elb_joint_counts_batch(joint, in, 1000, narrow, &done));
    QUIET(elb_joint_tally(joint, in, 1000, &tally));
    QUIET(elb_joint_command_from_counts_batch(joint, narrow, 1000, out));
    QUIET(elb_joint_command_from_counts_batch_u32(joint, wide, 1000, out));
    QUIET(elb_joint_command_from_drive_batch(joint, in, 1000, out));
    QUIET(elb_joint_command_from_pulse_us_batch(joint, in, 1000, out));
    QUIET(elb_joint_has_feedback(joint, &flag));
    if (flag != 1) return;
    for (i = 0; i < 1000; i += 7) {
        QUIET(elb_joint_angle_from_reading(joint, i, &value));
        QUIET(elb_joint_command_from_reading(joint, i, &value));
        QUIET(elb_joint_reading_from_command(joint, in[i], &value));
        QUIET(elb_joint_reading_at_supply(joint, i, 4.8, &value));
        QUIET(elb_joint_reading_state(joint, i, &state));
        QUIET(elb_joint_angle_per_reading(joint, i, &value));
    }
}

/* A joint's block; 0 of a linkage, which has none. */
static int blocks(const elb_joint *joint) {
    static uint8_t image[4096];
    elb_block_conversion conversion;
    size_t length = 0;
    uint16_t counts;
    float value;
    int i;
    if (elb_joint_block(joint, 3, image, sizeof image, &length, NULL) != ELB_STATUS_OK) return 0;
    QUIET(elb_block_check(image, length));
    for (i = -60; i < 100; i++) {
        const float command = (float)i;
        QUIET(elb_block_counts(image, length, 3, command, &counts));
        QUIET(elb_block_pulse_us(image, length, 3, command, &value));
        QUIET(elb_block_convert(image, length, 3, command, &conversion));
        QUIET(elb_block_command_from_counts(image, length, 3, counts, &value));
        QUIET(elb_block_command_from_pulse_us(image, length, 3, 1500 + 3 * command, &value));
        QUIET(elb_block_command_from_drive(image, length, 3, 80 + command / 4, &value));
    }
    return 1;
}

static void follow_checks(const elb_joint *joint) {
    elb_follow_check *check = NULL;
    elb_following tick;
    uint32_t sensed = 0;
    int i;
    OK(elb_follow_check_new(10, 2, 4, 5, &check, NULL));
    OK(elb_joint_has_feedback(joint, &sensed));
    for (i = 0; i < 200; i++) {
        QUIET(elb_follow_check_tick(check, 0.1 * i, i % 7 == 0 ? NAN : 0.05 * i, &tick));
        if (sensed) QUIET(elb_follow_check_tick_reading(check, joint, 0.1 * i, 5 * i, &tick));
    }
    if (!sensed) QUIETLY_REFUSED(ELB_STATUS_NO_FEEDBACK, elb_follow_check_tick_reading(check, joint, 10, 500, &tick));
    QUIET(elb_follow_check_reset(check, 10));
    QUIETLY_REFUSED(ELB_STATUS_NOT_FINITE, elb_follow_check_tick(check, NAN, 10, &tick));
    elb_follow_check_free(check);
}

static void ramps(const elb_joint *joint) {
    elb_ramp *ramp = NULL;
    elb_conversion step;
    double value;
    uint32_t rests;
    int i;
    OK(elb_ramp_of_joint(joint, 10, 60, 300, 50, &ramp, NULL));
    for (i = 0; i < 200; i++) {
        QUIET(elb_ramp_follow(ramp, i < 100 ? 1000 : -1000, &value));
        QUIET(elb_ramp_step(ramp, i < 100 ? 1000 : -1000, &step));
        QUIET(elb_ramp_value(ramp, &value));
        QUIET(elb_ramp_rests_at(ramp, 10, &rests));
    }
    QUIET(elb_ramp_limit(ramp, 30, 300, 50, NULL));
    QUIET(elb_ramp_change_joint(ramp, joint, 60, 300, 50, NULL));
    QUIET(elb_ramp_reset(ramp, 10));
    QUIETLY_REFUSED(ELB_STATUS_NOT_FINITE, elb_ramp_follow(ramp, NAN, &value));
    elb_ramp_free(ramp);
}

static const char heron[] =
    "format = 1\nname = \"heron\"\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n"
    "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
    "[joint.straight]\ncommand = [-40, 60]\ndrive = [37, 122]\ntravel = [40.2, 119]\nrest = 10\nunit = \"deg\"\n"
    "feedback = { reading = [212, 871], angle = [-40, 60], adc_bits = 10 }\n"
    "[joint.inverted]\ncommand = [-40, 60]\ndrive = [37, 122]\ninverted = true\nrest = 10\n"
    "[joint.curved]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
    "transmission = { kind = \"curve\", knots = [[-40, 37], [0, 80], [60, 122]] }\n"
    "feedback = { reading = [212, 871], angle = [-40, 60], knots = [[212, -40], [500, 5], [871, 60]], supply_v = 5 }\n"
    "[joint.triangle]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
    "transmission = { kind = \"triangle\", base = 18, arm = 41, angle_at_zero = 60 }\n"
    "[joint.crank]\ncommand = [0, 20]\ndrive = [37, 122]\nrest = 10\n"
    "transmission = { kind = \"slider-crank\", crank = 20, rod = 60, offset = 0, slide_at_zero = 50, branch = \"left\" }\n"
    "[joint.four]\ncommand = [0, 60]\ndrive = [37, 122]\nrest = 10\n"
    "transmission = { kind = \"four-bar\", crank = 20, coupler = 50, rocker = 25, ground = 50, rocker_at_zero = 60, branch = \"right\" }\n"
    "[joint.spool]\ncommand = [0, 60]\ndrive = [37, 122]\nrest = 10\n"
    "transmission = { kind = \"spool\", drum = 10, per_turn = 1, pulley = 15 }\n";

static void robots(void) {
    enum { JOINTS = 7 };
    elb_robot *robot = NULL;
    elb_error error;
    double command[JOINTS];
    uint32_t counts[JOINTS], flags[JOINTS];
    const elb_joint *joint = NULL;
    elb_robot_entry entry;
    elb_unit unit;
    size_t n = 0, place, i;
    int step, with_blocks = 0;
    unsigned long before = memory;
    if (elb_robot_parse(heron, strlen(heron), &robot, &error) != ELB_STATUS_OK) {
        printf("%s\n", error.message);
        checks_failed++;
        return;
    }
    /* What is counted here is counted. */
    CHECK(memory > before + 10);
    OK(elb_robot_joint_count(robot, &n));
    CHECK(n == JOINTS);
    for (i = 0; i < n; i++) {
        QUIET(elb_robot_joint_at(robot, i, &joint));
        QUIET(elb_robot_entry_at(robot, i, &entry));
        QUIET(elb_robot_unit_at(robot, i, &unit));
        QUIET(elb_robot_find(robot, entry.name, &place, &error));
        QUIET(elb_robot_joint(robot, entry.name, &joint));
        conversions(joint);
        ramps(joint);
        follow_checks(joint);
        with_blocks += blocks(joint);
    }
    CHECK(with_blocks == 3);
    QUIETLY_REFUSED(ELB_STATUS_UNKNOWN_JOINT, elb_robot_find(robot, "straihgt", &place, &error));
    CHECK(strcmp(error.message, "no joint is named \"straihgt\"; the nearest name is \"straight\"") == 0);
    QUIETLY_REFUSED(ELB_STATUS_UNKNOWN_JOINT, elb_robot_find(robot, "straihgt", &place, NULL));
    QUIETLY_REFUSED(ELB_STATUS_UNKNOWN_JOINT, elb_robot_joint(robot, "straihgt", &joint));
    for (step = -100; step < 100; step++) {
        for (i = 0; i < JOINTS; i++) command[i] = step;
        QUIET(elb_robot_counts(robot, command, JOINTS, counts, flags, &n));
    }
    command[3] = NAN;
    QUIETLY_REFUSED(ELB_STATUS_NOT_FINITE, elb_robot_counts(robot, command, JOINTS, counts, flags, &n));
    elb_robot_free(robot);
}

/* Saves a bring-up and takes it up again, as after a crash. */
static elb_session *resumed(elb_session *session) {
    static char text[1 << 20];
    size_t length = 0;
    elb_session *again = NULL;
    OK(elb_session_json(session, text, sizeof text, &length));
    elb_session_free(session);
    OK(elb_session_parse(text, length, &again, NULL));
    return again;
}

/* A whole bring-up, saved and taken up again before the report `first` and each `every` after it; 0: never. Returns how many reports
 * it took. */
static int bring_up(int first, int every) {
    elb_session_config plan;
    elb_session *session = NULL;
    elb_action action;
    elb_report report;
    elb_outcome outcome;
    uint32_t cautions;
    simulated joint = simulated_at(42.5);
    int steps = 0, loud = 0;
    OK(elb_session_config_init(&plan, sizeof plan));
    plan.start = 42.5;
    OK(elb_session_new(&plan, &session, NULL));
    for (;;) {
        elb_status status;
        unsigned long took, locked;
        CHECK(steps < 10000);
        if (steps >= 10000) break;
        if (every > 0 && steps >= first && (steps - first) % every == 0) session = resumed(session);
        QUIET(elb_session_next(session, &action));
        QUIET(elb_session_cautions(session, &cautions));
        if (action.kind == ELB_ACTION_DONE) break;
        report = simulated_do(&joint, &action);
        took = memory, locked = locks;
        status = elb_session_report(session, &report, NULL);
        took = memory - took, locked = locks - locked;
        OK(status);
        CHECK(locked == 0);
        /* Where the sweeps end, and at the end. */
        if (took > 0 && ++loud > 2) {
            checks_failed++;
            printf("report %d of a bring-up taken up from report %d, every %d: %lu times memory\n", steps, first, every, took);
        }
        steps++;
    }
    OK(elb_session_outcome(session, &outcome));
    CHECK(outcome.verdict == ELB_OUTCOME_READY && steps > 200 && loud > 0);
    elb_session_free(session);
    return steps;
}

static void sessions(void) {
    const int steps = bring_up(0, 0);
    int at;
    /* Taken up once, at any report; and again and again. */
    for (at = 0; at < steps; at += 7) bring_up(at, 1 << 20);
    /* The first report after it brings the drive back; so not after each one. */
    for (at = 10; at < 60; at += 9) bring_up(0, at);
}

int main(void) {
    pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
    /* What is counted here is counted. */
    pthread_mutex_lock(&lock);
    CHECK(locks == 1);
    pthread_mutex_unlock(&lock);
    robots();
    sessions();
    printf("%s - quiet (%d checks)\n", checks_failed == 0 ? "ok" : "not ok", checks_made);
    return checks_failed != 0;
}
