/* A program of the analysis header. */
#include <elbowroom_analysis.h>

int main(void) {
    const double x[] = {0, 1, 2, 3}, y[] = {1, 3, 5, 7};
    elb_line *line;
    elb_line_values values;
    if (elb_line_new(x, y, NULL, NULL, 4, &line, NULL)) return 1;
    if (elb_line_values_of(line, &values)) return 1;
    elb_line_free(line);
    return values.slope < 1.999 || values.slope > 2.001;
}
