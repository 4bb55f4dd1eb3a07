/* The shared faults of tests/data/vectors/faults.txt: the same code, name, place and sentence as in every other language. */
#include "check.h"

enum { ROOM = 4096, MOST_ROWS = 32 };

typedef struct fault {
    char title[ROOM];
    char text[ROOM];
    size_t length;
    double drive[MOST_ROWS], measured[MOST_ROWS];
    size_t rows;
} fault;

static elb_status provoke(const fault *given, elb_error *error) {
    elb_robot *robot = NULL;
    elb_readings readings;
    elb_fit_options options;
    elb_fit *fit = NULL;
    elb_status status;
    if (given->rows == 0) {
        status = elb_robot_parse(given->text, given->length, &robot, error);
        CHECK(robot == NULL);
        elb_robot_free(robot);
        return status;
    }
    OK(elb_readings_init(&readings, sizeof readings));
    OK(elb_fit_options_init(&options, sizeof options));
    readings.n = given->rows;
    readings.drive = given->drive;
    readings.measured = given->measured;
    status = elb_fit_limits(&readings, &options, &fit, error);
    if (given->length > 0) {
        elb_robot *changed = NULL;
        OK(status);
        OK(elb_robot_parse(given->text, given->length, &robot, error));
        status = elb_robot_with_fit(robot, "wing_left", fit, NULL, 0, &changed, error);
        CHECK(changed == NULL);
        elb_robot_free(robot);
    } else {
        CHECK(fit == NULL);
    }
    elb_fit_free(fit);
    return status;
}

void test_faults(void) {
    char line[ROOM];
    static fault now;
    elb_error error;
    int code = 0, faults = 0;
    unsigned long at_line = 0, at_column = 0;
    char name[128] = "";
    FILE *file;
    file = open_data("vectors", "faults.txt");
    if (file == NULL) return;
    while (fgets(line, sizeof line, file) != NULL) {
        size_t n = strcspn(line, "\n");
        const char *rest = n > 2 ? line + 2 : "";
        line[n] = 0;
        if (line[0] == 'F') {
            memset(&now, 0, sizeof now);
            snprintf(now.title, sizeof now.title, "%s", rest);
        } else if (line[0] == 'L') {
            now.length += (size_t)snprintf(now.text + now.length, ROOM - now.length, "%s\n", rest);
        } else if (line[0] == 'R' && now.rows < MOST_ROWS) {
            char *next;
            now.drive[now.rows] = strtod(rest, &next);
            now.measured[now.rows++] = strtod(next, NULL);
        } else if (line[0] == 'E') {
            CHECK(sscanf(rest, "%d %127s %lu %lu", &code, name, &at_line, &at_column) == 4);
        } else if (line[0] == 'M') {
            elb_status status = provoke(&now, &error);
            int same = (int)status == code && strcmp(elb_status_name(status), name) == 0 && error.status == status &&
                       error.line == at_line && error.column == at_column && strcmp(error.message, rest) == 0;
            if (!same) printf("%s: %d %s %u:%u %s\n", now.title, (int)status, elb_status_name(status), error.line, error.column, error.message);
            CHECK(same);
            faults++;
        } else {
            CHECK(line[0] == '#');
        }
    }
    fclose(file);
    CHECK(faults >= 30);
}
