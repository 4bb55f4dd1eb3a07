/* Limits from a ring buffer: while the joint is moved by hand-set commands, the last readings are kept; when enough are
 * there, they are fitted.
 *
 *     cc ring.c $(pkg-config --cflags --libs elbowroom) -lm
 *
 * The joint is invented: it follows at 0.5 deg per deg and meets its upper stop at drive 70. Never search a stop under a
 * person's hand. */
#include <elbowroom.h>
#include <math.h>
#include <stdio.h>

enum { ROOM = 64 };

typedef struct ring {
    double drive[ROOM], measured[ROOM];
    int8_t approach[ROOM];
    size_t used, next;
} ring;

static void ring_put(ring *r, double drive, double measured, int8_t approach) {
    r->drive[r->next] = drive;
    r->measured[r->next] = measured;
    r->approach[r->next] = approach;
    r->next = (r->next + 1) % ROOM;
    if (r->used < ROOM) r->used++;
}

/* What the joint would show: at rest, with 0.05 deg of scatter. */
static double look(double drive, int i) {
    const double angle = 10 + 0.5 * (drive < 70 ? drive : 70);
    return angle + 0.05 * sin(12.9898 * i);
}

int main(void) {
    static ring buffer;
    elb_readings readings;
    elb_fit *fit = NULL;
    elb_error error;
    elb_fit_end end;
    elb_lost_motion lost;
    const char *text = "";
    double lower, upper;
    int i;

    for (i = 0; i < 100; i++) {
        const int phase = i % 50;
        const double drive = phase < 25 ? 20 + 2.4 * phase : 20 + 2.4 * (49 - phase);
        ring_put(&buffer, drive, look(drive, i), phase < 25 ? ELB_APPROACH_BELOW : ELB_APPROACH_ABOVE);
    }
    /* The order of readings taken at rest does not matter, so a ring goes in as it lies. */
    if (elb_readings_init(&readings, sizeof readings) != ELB_STATUS_OK) return 1;
    readings.n = buffer.used;
    readings.drive = buffer.drive;
    readings.measured = buffer.measured;
    readings.approach = buffer.approach;
    if (elb_fit_limits(&readings, NULL, &fit, &error) != ELB_STATUS_OK) {
        fprintf(stderr, "%s\n", error.message);
        return 1;
    }
    if (elb_fit_end_of(fit, ELB_SIDE_UPPER, &end) == ELB_STATUS_OK) {
        if (end.kind == ELB_END_CONTACT) {
            printf("upper end: stop found at drive %.2f, standard uncertainty %.2f\n", end.at, end.u);
        } else {
            printf("upper end: no stop found, clear to drive %.2f\n", end.at);
        }
    }
    if (elb_fit_end_of(fit, ELB_SIDE_LOWER, &end) == ELB_STATUS_OK) {
        printf("lower end: %s drive %.2f\n", end.kind == ELB_END_CONTACT ? "stop found at" : "no stop found, clear to", end.at);
    }
    if (elb_fit_travel(fit, &lower, &upper) == ELB_STATUS_OK) printf("travel: [%.2f, %.2f]\n", lower, upper);
    if (elb_fit_lost_motion(fit, &lost) == ELB_STATUS_OK) {
        printf("lost motion: %.3f, standard uncertainty %.3f\n", lost.value, lost.u);
    } else if (elb_fit_lost_motion_text(fit, &text) == ELB_STATUS_OK) {
        printf("%s\n", text);
    }
    elb_fit_free(fit);
    return 0;
}
