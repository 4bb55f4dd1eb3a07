/* The C face fed with changed texts and images: nothing is read or written outside, every handle is freed, every text ends.
 * Run under sanitizers. The texts are those of tests/fuzz/corpus; each input lies in a block of exactly its own length.
 *
 *   fuzz SECONDS SEED FILE... */
#define _POSIX_C_SOURCE 200809L
#include <elbowroom.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { MOST = 8, LONGEST = 1 << 16 };

static uint64_t state;

/* xorshift64*, Vigna 2016. */
static size_t below(size_t most) {
    state ^= state >> 12, state ^= state << 25, state ^= state >> 27;
    return most == 0 ? 0 : (size_t)((state * 0x2545F4914F6CDD1DULL) >> 33) % most;
}

static const char *const words[] = {"0", "-1", "nan", "inf", "1e308", "1e-320", "9223372036854775807", "\"", "[", "]", "{", "}", "=", "\n",
                                    "joint", "command", "knots", "kind", "four-bar", "triangle", "evidence", "#", "\xff", "\\u0000"};

/* A changed copy in memory of its own. */
static char *changed(const char *text, size_t length, size_t *out) {
    static char work[2 * LONGEST];
    size_t times = below(4), i;
    char *copy;
    memcpy(work, text, length);
    for (i = 0; i < times && length > 0 && length < LONGEST; i++) {
        size_t at = below(length);
        const char *word = words[below(sizeof words / sizeof *words)];
        size_t size = strlen(word);
        switch (below(5)) {
        case 0: work[at] = (char)below(256); break;
        case 1: length = below(8) == 0 ? at : length; break;
        case 2: /* A word more. */
            memmove(work + at + size, work + at, length - at);
            memcpy(work + at, word, size);
            length += size;
            break;
        case 3: { /* A number becomes another. */
            size_t end;
            while (at < length && (work[at] < '0' || work[at] > '9')) at++;
            for (end = at; end < length && work[end] >= '0' && work[end] <= '9';) end++;
            memmove(work + at + size, work + end, length - end);
            memcpy(work + at, word, size);
            length += size - (end - at);
            break;
        }
        default: { /* A line less. */
            size_t end = at;
            while (end < length && work[end] != '\n') end++;
            memmove(work + at, work + end, length - end);
            length -= end - at;
        }
        }
    }
    copy = (char *)malloc(length == 0 ? 1 : length);
    if (copy == NULL) exit(2);
    memcpy(copy, work, length);
    *out = length;
    return copy;
}

static void ends(const char *text, size_t room) {
    if (memchr(text, 0, room) == NULL) {
        puts("a text without an end");
        exit(1);
    }
}

static void image(const uint8_t *block, size_t length) {
    uint16_t counts = 0, channel;
    if (elb_block_check(block, length) != ELB_STATUS_OK) return;
    for (channel = 0; channel < 20; channel++) (void)!elb_block_counts(block, length, channel, 10, &counts);
}

static void robot(const char *text, size_t length) {
    elb_robot *robot = NULL;
    elb_error error;
    uint8_t *block;
    char *bytes;
    size_t n = 0, i, size = 0;
    if (elb_robot_parse(text, length, &robot, &error) != ELB_STATUS_OK) {
        ends(error.message, sizeof error.message);
        return;
    }
    (void)!elb_robot_joint_count(robot, &n);
    for (i = 0; i < n; i++) {
        const elb_joint *joint = NULL;
        elb_robot_entry entry;
        elb_conversion out;
        double command = 0;
        if (elb_robot_joint_at(robot, i, &joint) != ELB_STATUS_OK || elb_robot_entry_at(robot, i, &entry) != ELB_STATUS_OK) exit(1);
        (void)!elb_joint_counts(joint, 12.5, &out);
        (void)!elb_joint_command_from_counts(joint, 283, &command);
    }
    if (elb_robot_block(robot, NULL, NULL, 0, &size, &error) == ELB_STATUS_NO_ROOM || size > 0) {
        block = (uint8_t *)malloc(size == 0 ? 1 : size);
        if (block == NULL) exit(2);
        if (elb_robot_block(robot, NULL, block, size, &size, &error) == ELB_STATUS_OK) {
            image(block, size);
            bytes = changed((const char *)block, size, &n);
            image((const uint8_t *)bytes, n);
            free(bytes);
        }
        free(block);
    }
    elb_robot_free(robot);
}

static void session(const char *text, size_t length) {
    elb_session *session = NULL;
    elb_error error;
    if (elb_session_parse(text, length, &session, &error) == ELB_STATUS_OK) {
        size_t size = 0;
        char room[64];
        (void)!elb_session_json(session, room, sizeof room, &size);
        elb_session_free(session);
    } else {
        ends(error.message, sizeof error.message);
    }
}

int main(int argc, char **argv) {
    static char texts[MOST + 1][LONGEST];
    size_t lengths[MOST + 1], n = 0;
    unsigned long tried = 0;
    time_t end;
    int i;
    if (argc < 4) return 2;
    state = strtoull(argv[2], NULL, 10) * 0x9E3779B97F4A7C15ULL | 1;
    for (i = 3; i < argc && n < MOST; i++, n++) {
        FILE *file = fopen(argv[i], "rb");
        if (file == NULL) return 2;
        lengths[n] = fread(texts[n], 1, LONGEST, file);
        fclose(file);
    }
    {
        elb_session_config config;
        elb_session *fresh = NULL;
        size_t size = 0;
        if (elb_session_config_init(&config, sizeof config) != ELB_STATUS_OK) return 2;
        config.start = 90, config.search_limits[0] = 10, config.search_limits[1] = 170;
        if (elb_session_new(&config, &fresh, NULL) == ELB_STATUS_OK && elb_session_json(fresh, texts[n], LONGEST, &size) == ELB_STATUS_OK)
            lengths[n++] = size;
        elb_session_free(fresh);
    }
    end = time(NULL) + atol(argv[1]);
    while (time(NULL) < end) {
        for (i = 0; i < 50; i++, tried++) {
            size_t length, from = below(n);
            char *text = changed(texts[from], lengths[from], &length);
            robot(text, length);
            session(text, length);
            free(text);
        }
    }
    printf("# %lu inputs from %zu texts, no finding\n", tried, n);
    return 0;
}
