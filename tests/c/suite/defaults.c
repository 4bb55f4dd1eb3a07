/* What options and plans begin with: the numbers of tests/data/vectors/defaults.txt, as in every other language. */
#include "check.h"

void test_defaults(void) {
    char line[256], name[128];
    double wanted;
    int seen = 0;
    elb_fit_options fit;
    elb_compare_options compare;
    elb_session_config session;
    elb_bench_config bench;
    size_t i;
    FILE *file;
    OK(elb_fit_options_init(&fit, sizeof fit));
    OK(elb_compare_options_init(&compare, sizeof compare));
    OK(elb_session_config_init(&session, sizeof session));
    OK(elb_bench_config_init(&bench, sizeof bench));
    {
        const struct {
            const char *name;
            double value;
        } own[] = {
            {"fit.guard", fit.guard},
            {"fit.confidence", fit.confidence},
            {"compare.smallest_drive", compare.smallest_drive},
            {"compare.smallest_share", compare.smallest_share},
            {"session.clearance", session.clearance},
            {"session.step", session.step},
            {"session.tolerance", session.tolerance},
            {"session.run_in", session.run_in},
            {"session.sweep_step", session.sweep_step},
            {"session.guard", session.guard},
            {"session.confidence", session.confidence},
            {"session.resolution", session.resolution},
            {"session.rated_speed", session.rated_speed},
            {"session.rising", (double)session.rising},
            {"session.sense.reading_range.0", session.reading_range[0]},
            {"session.sense.reading_range.1", session.reading_range[1]},
            {"alignment.margin", session.alignment_margin},
            {"bench.clearance", bench.clearance},
            {"bench.overtravel", bench.overtravel},
            {"bench.run_in", bench.run_in},
            {"bench.guard", bench.guard},
            {"bench.confidence", bench.confidence},
            {"bench.turn", bench.turn},
            {"bench.resolution", bench.resolution},
            {"bench.u_reading", bench.u_reading},
            {"bench.tolerance", bench.tolerance},
            {"bench.bend", bench.bend},
            {"bench.rate_per_s", bench.max_rate_per_s},
            {"bench.settle_s", bench.settle_s},
            {"bench.most_readings", (double)bench.most_readings},
            {"bench.feel_stops", (double)bench.feel_stops},
        };
        const int all = (int)(sizeof own / sizeof own[0]);
        file = open_data("vectors", "defaults.txt");
        if (file == NULL) return;
        while (fgets(line, sizeof line, file) != NULL) {
            if (line[0] == '#') continue;
            CHECK(sscanf(line, "%127s %lf", name, &wanted) == 2);
            for (i = 0; i < sizeof own / sizeof own[0]; i++) {
                if (strcmp(own[i].name, name) != 0) continue;
                seen++;
                /* 0 leaves these two to the library, which takes them from other fields. */
                if (own[i].value == 0 && (strcmp(name, "bench.overtravel") == 0 || strcmp(name, "bench.u_reading") == 0)) continue;
                if (own[i].value != wanted) printf("%s begins with %g, not %g\n", name, own[i].value, wanted);
                CHECK(own[i].value == wanted);
            }
        }
        fclose(file);
        CHECK(seen == all);
    }
}
