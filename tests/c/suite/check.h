/* What every C test here uses. Valid C99 and C++17. */
#ifndef ELB_CHECK_H
#define ELB_CHECK_H

#include <elbowroom_analysis.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

extern int checks_failed;
extern int checks_made;

/* Goes on after a failure, so that one run shows all of them. */
#define CHECK(condition)                                                          \
    do {                                                                          \
        checks_made++;                                                            \
        if (!(condition)) {                                                       \
            checks_failed++;                                                      \
            printf("%s:%d: not true: %s\n", __FILE__, __LINE__, #condition);      \
        }                                                                         \
    } while (0)

/* A call and the status it must come to. */
#define EXPECT(wanted, call)                                                      \
    do {                                                                          \
        elb_status got_ = (call);                                                 \
        checks_made++;                                                            \
        if (got_ != (wanted)) {                                                   \
            checks_failed++;                                                      \
            printf("%s:%d: %s gave %s, not %s\n", __FILE__, __LINE__, #call,      \
                   elb_status_name(got_), elb_status_name(wanted));               \
        }                                                                         \
    } while (0)

#define OK(call) EXPECT(ELB_STATUS_OK, call)

/* A message, and words that must stand in it. */
static inline void says(const char *message, const char *words, const char *file, int line) {
    checks_made++;
    if (words[0] == 0 || strstr(message, words) == NULL || strchr(message, '\n') != NULL) {
        checks_failed++;
        printf("%s:%d: \"%s\" does not say \"%s\"\n", file, line, message, words);
    }
}

/* A call, the status it must come to, and what its message says: that of the elb_error `given`, which the call fills. */
#define SAYS(wanted, call, given, words)                                          \
    do {                                                                          \
        memset(&(given), 0xee, sizeof(given));                                    \
        EXPECT(wanted, call);                                                     \
        CHECK((given).status == (wanted));                                        \
        says((given).message, words, __FILE__, __LINE__);                         \
    } while (0)

/* The same of a call that has nothing but its status. */
#define TEXT_SAYS(wanted, call, words)                                            \
    do {                                                                          \
        EXPECT(wanted, call);                                                     \
        says(elb_status_text(wanted), words, __FILE__, __LINE__);                 \
    } while (0)

/* A file in a folder of tests/data, or of the one that ELB_TEST_DATA names. */
static inline FILE *open_data(const char *folder, const char *name) {
    const char *data = getenv("ELB_TEST_DATA");
    char path[4096];
    FILE *file;
    snprintf(path, sizeof path, "%s/%s/%s", data ? data : "tests/data", folder, name);
    file = fopen(path, "r");
    checks_made++;
    if (file == NULL) {
        checks_failed++;
        printf("cannot read %s\n", path);
    }
    return file;
}

/* The bits of a double. */
static inline uint64_t bits_of(double value) {
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

/* A float of a vector file: its bits in hex, or `nan`. */
static inline double read_bits(const char *word) {
    uint64_t bits;
    double value;
    if (strcmp(word, "nan") == 0) return NAN;
    bits = strtoull(word, NULL, 16);
    memcpy(&value, &bits, sizeof value);
    return value;
}

/* The same bits, or both NaN. */
static inline int same(double got, const char *word) {
    if (strcmp(word, "nan") == 0) return isnan(got);
    return bits_of(got) == strtoull(word, NULL, 16);
}

/* The number of a transmission's word. */
static inline uint32_t kind_of(const char *word) {
    static const char *const kinds[] = {"linear", "curve", "triangle", "slider-crank", "four-bar", "spool"};
    uint32_t i;
    for (i = 0; i < 6; i++) {
        if (strcmp(word, kinds[i]) == 0) return i;
    }
    return 99;
}

/* The worked example of the manual: command -40 to 60 on drive 37 to 122, rest 10, 12 bits at 50 Hz. */
elb_joint_config example_config(void);
elb_joint *example_joint(void);

#endif
