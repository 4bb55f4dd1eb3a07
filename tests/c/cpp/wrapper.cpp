// elbowroom.hpp: owners, views, exceptions.
#include <elbowroom.hpp>

#include <array>
#include <cmath>
#include <cstdio>
#include <type_traits>
#include <utility>

static int failed = 0;
#define CHECK(condition) \
    do { \
        if (!(condition)) { \
            failed++; \
            std::printf("%s:%d: not true: %s\n", __FILE__, __LINE__, #condition); \
        } \
    } while (0)

static elb_joint_config example() {
    elb_joint_config config = elb::joint_config();
    config.command[0] = -40, config.command[1] = 60;
    config.drive[0] = 37;
    config.drive[1] = 122;
    config.rest = 10;
    config.servo.pulse_us[0] = 500;
    config.servo.pulse_us[1] = 2500;
    config.timer.counts_per_frame = 4096;
    return config;
}

template <class F> static elb::Error thrown(F call) {
    try {
        call();
    } catch (const elb::Error &error) {
        return error;
    }
    return elb::Error(ELB_STATUS_OK);
}

// What lives in an object is not handed out by a temporary one: such a program does not compile.
template <class Object, class Call, class = void> struct Takes : std::false_type {};
template <class Object, class Call>
struct Takes<Object, Call, std::void_t<decltype(std::declval<Call>()(std::declval<Object>()))>> : std::true_type {};
template <class Object, class Call> constexpr bool lasting_only(Call) {
    return Takes<const Object &, Call>::value && Takes<Object &, Call>::value && !Takes<Object, Call>::value &&
           !Takes<const Object, Call>::value;
}
#define LASTING_ONLY(object, call) \
    static_assert(lasting_only<object>([](auto &&it) -> decltype(std::forward<decltype(it)>(it).call) { \
        return std::forward<decltype(it)>(it).call; \
    }))
LASTING_ONLY(elb::Robot, joint("wing"));
LASTING_ONLY(elb::Robot, joint(std::size_t(0)));
LASTING_ONLY(elb::Robot, try_joint("wing"));
LASTING_ONLY(elb::Robot, try_joint(std::size_t(0)));
LASTING_ONLY(elb::Robot, entry(0));
LASTING_ONLY(elb::Robot, try_entry(0, std::declval<elb_robot_entry &>()));
LASTING_ONLY(elb::Robot, try_name(std::declval<const char *&>()));
LASTING_ONLY(elb::Robot, try_text(std::declval<const char *&>()));
LASTING_ONLY(elb::Fit, try_warnings(0, std::declval<const char *&>()));
LASTING_ONLY(elb::Choice, line(0));
LASTING_ONLY(elb::Choice, curve(0));
LASTING_ONLY(elb::Choice, linkage(0));
LASTING_ONLY(elb::Comparison, warnings());
LASTING_ONLY(elb::Comparison, diagnoses());
LASTING_ONLY(elb::Findings, try_open(0, std::declval<elb_finding &>()));
LASTING_ONLY(elb::Limits, try_text(std::declval<const char *&>()));

static void joints() {
    static_assert(!std::is_copy_constructible_v<elb::Joint> && std::is_nothrow_move_constructible_v<elb::Joint>);
    elb::Joint first(example());
    elb::Joint joint = std::move(first);
    CHECK(joint.drive(10.0).value == 79.5);
    CHECK(joint.pulse_us(10.0).value == 1383.3333333333333);
    CHECK(joint.counts(10.0).value == 283 && joint.counts(500).flags == ELB_CLAMPED_TO_COMMAND);
    CHECK(joint.command_from_drive(79.5) == 10.0);
    CHECK(std::abs(joint.command_from_pulse_us(1383.3333333333333) - 10.0) < 1e-9);
    CHECK(std::abs(joint.command_from_counts(283) - 10.0) < 1);
    CHECK(joint.valid_range().first < -1e300 && joint.valid_range().second > 1e300);
    CHECK(thrown([&] { joint.reading_at_supply(500, 5); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(joint.count_range() == std::make_pair(std::uint32_t(187), std::uint32_t(380)));
    CHECK(elb::Joint::clone(joint).config().rest == 10.0);
    CHECK(joint.knots().empty() && joint.feedback_knots().empty());

    std::vector<double> commands{-40, 10, 60, 100};
    const std::array<double, 2> fixed{-40, 60};
    double plain[] = {10};
    CHECK((joint.counts(commands) == std::vector<std::uint32_t>{187, 283, 380, 380}));
    CHECK(joint.counts(fixed).size() == 2 && joint.counts(plain)[0] == 283);
    CHECK(joint.tally(commands).clamped_to_command == 1);
    std::vector<std::uint16_t> narrow(4);
    joint.counts(commands, narrow);
    CHECK(narrow[1] == 283);
    joint.pulse_us(fixed, elb::View<double>(plain, 1).size() == 1 ? elb::View<double>(commands.data(), 2) : plain);
    commands = {-40, 10, 60, 100};
    joint.drive(commands, commands);
    CHECK((commands == std::vector<double>{37, 79.5, 122, 122}));
}

static void exceptions() {
    elb::Joint joint(example());
    elb::Error error = thrown([&] { joint.counts(NAN); });
    CHECK(error.status() == ELB_STATUS_NOT_FINITE && std::string(error.what()) == elb_status_text(ELB_STATUS_NOT_FINITE));
    std::vector<double> commands{-40, 10, INFINITY};
    error = thrown([&] { joint.counts(commands); });
    CHECK(error.status() == ELB_STATUS_NOT_FINITE && error.index() == 2 && std::isinf(error.value()));
    CHECK(error.what() == std::string("the command at index 2 is inf; give a finite number"));
    double small[1];
    error = thrown([&] { joint.drive(commands, small); });
    CHECK(error.status() == ELB_STATUS_LENGTH_MISMATCH);
    CHECK(error.what() == std::string("the number of values is 3 and the number of places for results is 1; they must be equal"));
    elb_joint_config config = example();
    config.rest = 181;
    error = thrown([&] { elb::Joint refused(config); });
    CHECK(error.status() == ELB_STATUS_REST_OUTSIDE && error.value() == 181);
    CHECK(std::string(error.what()) == "rest 181 is outside command -40 to 60; choose a rest inside the command range");
}

static void names() {
    CHECK(std::string(elb::clamped_name(ELB_CLAMPED_TO_TRAVEL)) == "clamped-to-travel");
    CHECK(std::string(elb::reading_name(ELB_READING_LOWER_RAIL)) == "lower-rail");
    CHECK(std::string(elb::end_name(ELB_END_CONTACT)) == "contact");
    CHECK(std::string(elb::reject_name(ELB_REJECT_OFF_THE_LINE)) == "off-the-line");
    CHECK(std::string(elb::severity_name(ELB_SEVERITY_ERROR)) == "error");
}

static void fits() {
    const std::vector<double> drive{10, 20, 30, 40, 50, 60}, measured{12.1, 21.9, 32.0, 42.2, 51.9, 62.0};
    elb_readings readings = elb::readings();
    readings.n = drive.size();
    readings.drive = drive.data();
    readings.measured = measured.data();
    elb::Fit fit(readings, elb::fit_options());
    CHECK(std::abs(fit.line().slope - 1.0) < 0.01 && fit.line().trend == 1);
    CHECK(fit.travel() == std::make_pair(10.0, 60.0));
    CHECK(fit.lower().kind == ELB_END_CLEAR && fit.upper().at == 60.0);
    CHECK(fit.rejected().empty());
    const elb::Comparison comparison(fit, fit);
    CHECK(comparison.diagnoses().size() == 1 && comparison.diagnoses()[0].kind == ELB_DIAGNOSIS_UNCHANGED);
    CHECK(comparison.change(ELB_QUANTITY_OFFSET).verdict == ELB_VERDICT_SAME);
    CHECK(!comparison.is_changed() && comparison.teeth().empty());
    CHECK(comparison.warnings().size() == 2 * fit.warnings().size());
    elb_compare_options finer = elb::compare_options();
    finer.smallest_drive = 0.1;
    CHECK(elb::Comparison(fit, fit, finer).change(ELB_QUANTITY_OFFSET).smallest == 0.1);
    finer.smallest_share = -1;
    CHECK(thrown([&] { elb::Comparison refused(fit, fit, finer); }).status() == ELB_STATUS_OPTION_OUTSIDE);
    CHECK(fit.warnings().size() < 10);
    CHECK(thrown([&] { fit.lost_motion(); }).status() == ELB_STATUS_ABSENT);
    CHECK(fit.lost_motion_text().find("not determinable") != std::string::npos);
    CHECK(fit.resolution() == std::make_pair(0.1, true) && !fit.approach_inferred());
    CHECK(thrown([&] { fit.rejected_slip(0); }).status() == ELB_STATUS_ABSENT);
    CHECK(thrown([&] { fit.next_readings(); }).status() == ELB_STATUS_ABSENT);
    readings.n = 1;
    CHECK(thrown([&] { elb::Fit refused(readings); }).status() == ELB_STATUS_TOO_FEW_READINGS);
}

static void transmissions() {
    // Invented: a bent joint, told what a triangle does.
    std::vector<double> drive, measured, uncertain;
    const elb_mechanism truth{{40, 92, 31, 0, 0}, ELB_TRANSMISSION_TRIANGLE, ELB_BRANCH_LEFT, 2 + 4, 0};
    const double degree = std::acos(-1.0) / 180;
    for (int i = 0; i <= 30; i++) {
        const double angle = 3.0 * i, between = std::cos((angle + 31) * degree);
        drive.push_back(1.5 * std::sqrt(40.0 * 40 + 92.0 * 92 - 2 * 40 * 92 * between) - 60);
        measured.push_back(angle + 0.02 * (i * 7 % 5 - 2));
        uncertain.push_back(0.1);
    }
    const elb::Line line(drive, measured);
    CHECK(line.values().dof == 29 && line.values().stated_u == 0 && line.coverage_factor(0.95) > 2);
    const elb::Line weighted(drive, measured, uncertain);
    CHECK(weighted.values().stated_u == 1 && std::abs(weighted.predict(drive[3]).value - measured[3]) < 10);
    const std::vector<double> seen{45};
    CHECK(std::abs(line.predict(line.inverse(seen).value).value - 45) < 1e-9);
    CHECK(elb::Line(drive, measured, uncertain, uncertain).values().n == 31);
    CHECK(thrown([&] { elb::Line(drive, seen); }).status() == ELB_STATUS_LENGTH_MISMATCH);
    CHECK(thrown([&] { elb::Line(drive, measured, seen); }).status() == ELB_STATUS_LENGTH_MISMATCH);

    const elb::Curve curve(drive, measured, 6);
    CHECK(curve.knots().size() == curve.values().n_knots && curve.criterion().size() == curve.values().n_tried);
    CHECK(std::abs(curve.expected(drive[15]) - 45) < 0.5);
    elb_joint_config config = elb::joint_config();
    config.servo.pulse_us[0] = 500;
    config.servo.pulse_us[1] = 2500;
    config.timer.counts_per_frame = 4096;
    std::vector<double> knots;
    const double low = curve.knots().front().measured, high = curve.knots().back().measured;
    CHECK(curve.joint(low, high, config, knots) < 0.2);
    config.rest = low;
    const elb::Joint bent(config);
    CHECK(std::abs(bent.command_from_drive(drive[15]) - 45) < 0.5);
    elb_joint_config again = bent.config();
    CHECK(again.transmission.knots == nullptr && again.transmission.n_knots > 2 && bent.knots() == std::vector<double>(knots.begin(), knots.begin() + 2 * static_cast<std::ptrdiff_t>(again.transmission.n_knots)));
    const std::vector<double> reading{100, 150, 200, 300, 400, 450}, at{0, 5, 10, 20, 30, 35};
    const elb_feedback_values sensed = elb::fit_feedback(reading, at, 5, 30, config, knots);
    CHECK(sensed.residual_sd < 1e-9 && sensed.dof == 4 && config.feedback.knots == nullptr);
    CHECK(std::abs(config.feedback.reading[0] - 150) < 1e-9 && std::abs(config.feedback.reading[1] - 400) < 1e-9);
    CHECK(thrown([&] { elb::fit_feedback(reading, at, 30, 5, config, knots); }).status() == ELB_STATUS_OPTION_OUTSIDE);
    CHECK(thrown([&] { elb::fit_feedback(reading, std::vector<double>{1, 2}, 5, 30, config, knots); }).status() == ELB_STATUS_LENGTH_MISMATCH);
    config.feedback.reading[0] = config.feedback.reading[1] = config.feedback.angle[0] = config.feedback.angle[1] = 0;
    CHECK(thrown([&] { curve.joint(high, low, config, knots); }).status() == ELB_STATUS_OPTION_OUTSIDE);
    CHECK(thrown([&] { elb::Curve(drive, measured, 1); }).status() == ELB_STATUS_OPTION_OUTSIDE);
    CHECK(thrown([&] { elb::Curve(drive, seen); }).status() == ELB_STATUS_LENGTH_MISMATCH);

    elb_mechanism start = truth;
    start.dimensions[1] = 85;
    const elb::Linkage linkage(drive, measured, start);
    const std::vector<elb_dimension> found = linkage.dimensions();
    CHECK(found.size() == 2 && std::string(found[0].name) == "arm" && std::abs(found[0].value - 92) < 4 * found[0].u);
    CHECK(linkage.mechanism().dimensions[1] == found[0].value && linkage.values().dof == 27);
    CHECK(std::abs(linkage.expected(linkage.drive(30)) - 30) < 1e-9);
    const auto [lower, upper] = linkage.command();
    linkage.joint(lower, upper, config);
    config.rest = lower;
    CHECK(std::abs(elb::Joint(config).command_from_drive(drive[15]) - 45) < 0.1);
    CHECK(thrown([&] { linkage.joint(0, 400, config); }).status() == ELB_STATUS_TRANSMISSION_INVALID);
    CHECK(thrown([&] { elb::Linkage(drive, seen, start); }).status() == ELB_STATUS_LENGTH_MISMATCH);

    const elb_mechanism guesses[] = {start};
    const elb::Choice choice(drive, measured, guesses, 6);
    CHECK(choice.best() == 2 && choice.candidates().size() == 3 && choice.candidates()[2].parameters == 4);
    CHECK(choice.reasons().at(0).find("linear: residual SD") == 0 && choice.reasons().at(1).find("triangle: 4 parameters") == 0);
    CHECK(choice.line(0).values().n == 31 && choice.curve(1).values().n_knots == curve.values().n_knots);
    CHECK(choice.linkage(2).values().offset == linkage.values().offset);
    CHECK(thrown([&] { choice.linkage(1); }).status() == ELB_STATUS_ABSENT);

    elb::Ramp ramp = elb::Ramp::per_cycle(40, 2, 0.5);
    CHECK(ramp.follow(45) == 40.5 && ramp.follow(45) == 41.5 && ramp.value() == 41.5 && !ramp.rests_at(45));
    CHECK(elb::Ramp(10, 60, 0, 50).follow(20) == 11.2);
    CHECK(thrown([&] { ramp.follow(NAN); }).status() == ELB_STATUS_NOT_FINITE);
    ramp.limit(0.75, 0.5, 1);
    CHECK(ramp.follow(45) == 42.25 && thrown([&] { ramp.limit(0, 0, 1); }).status() == ELB_STATUS_NOT_POSITIVE);
    CHECK(thrown([&] { ramp.change_joint(bent, 60, 0, 50); }).status() == ELB_STATUS_ABSENT);
    CHECK(thrown([] { elb::Ramp(0, 0, 0, 50); }).status() == ELB_STATUS_NOT_POSITIVE);

    elb::FollowCheck follows(0, 1, 0, 1);
    CHECK(follows.tick(10, 12).beyond == 1 && follows.tick(10, 7).state == ELB_FOLLOW_DOES_NOT_FOLLOW);
    CHECK(follows.tick(10, NAN).fault == ELB_READING_IMPOSSIBLE);
    follows.reset(3);
    CHECK(follows.expected() == std::make_pair(3.0, 3.0));
    CHECK(follows.tick(3, 3.5).state == ELB_FOLLOW_FOLLOWS && thrown([&] { follows.reset(NAN); }).status() == ELB_STATUS_NOT_FINITE);
    CHECK(thrown([&] { follows.tick(NAN, 3); }).status() == ELB_STATUS_NOT_FINITE);
    CHECK(thrown([&] { follows.tick_reading(bent, 3, 500); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(thrown([] { elb::FollowCheck(0, 0, 4, 5); }).status() == ELB_STATUS_NOT_POSITIVE);
    CHECK(std::string(elb::follow_name(ELB_FOLLOW_SENSOR_FAULT)) == "sensor-fault");

    elb_readings readings = elb::readings();
    readings.n = drive.size();
    readings.drive = drive.data();
    readings.measured = measured.data();
    const auto between = elb::Fit(readings).between_stops(readings);
    CHECK(linkage.explains_stops(elb::Fit(readings), readings) == std::make_pair(false, false));
    elb_session_config plan = elb::session_config();
    elb::know(plan, elb::Fit(readings));
    CHECK((plan.baseline & ELB_BASELINE_LINE) != 0 && plan.baseline_per_deg > 0);
    CHECK(between.drive.size() == between.measured.size() && between.drive.size() > 20);
    CHECK(between.approach.size() == between.drive.size() && between.approach[0] == ELB_APPROACH_UNKNOWN);
    std::vector<std::int8_t> sides(drive.size());
    for (std::size_t i = 0; i < sides.size(); i++) sides[i] = i % 2 == 0 ? ELB_APPROACH_BELOW : ELB_APPROACH_ABOVE;
    readings.approach = sides.data();
    const auto sided = elb::Fit(readings).between_stops(readings);
    const elb::Curve curve_of_sides(sided);
    const elb::Choice choice_of_sides(sided, std::vector<elb_mechanism>());
    CHECK(curve_of_sides.lost_motion().u > 0 && choice_of_sides.lost_motion(0).u > 0);
    CHECK(curve_of_sides.expected(drive[1], ELB_APPROACH_UNKNOWN) == curve_of_sides.expected(drive[1]));
    CHECK(elb::Linkage(sided, linkage.mechanism()).lost_motion().u > 0);
}

static void robots() {
    const std::string text = "format = 1\n[joint.wing]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
                             "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
                             "timer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    const elb::Robot robot = elb::Robot::parse(text);
    CHECK(robot.text() == text && robot.size() == 1 && std::string(robot.entry(0).name) == "wing");
    CHECK(robot.joint("wing").counts(10.0).value == 283 && robot.joint(0).handle() == robot.joint("wing").handle());
    elb_joint_config config = robot.joint("wing").config();
    config.travel[0] = 20;
    config.travel[1] = 60;
    config.rest = 0;
    const elb::Robot changed = robot.with_joint("wing", config);
    bool found = false;
    for (const elb::Finding &finding : changed.findings("2026-11-25")) {
        found |= finding.rule == "rest-outside-travel" && finding.joint == "wing" && finding.severity == ELB_SEVERITY_ERROR;
    }
    CHECK(found);
    const std::string urdf = "<robot><joint name=\"wing\" type=\"continuous\"/></robot>";
    bool endless = false;
    for (const elb::Finding &finding : robot.findings("", urdf)) endless |= finding.rule == "urdf-joint-endless";
    CHECK(endless);
    const elb::Description description = robot.limits_into(urdf);
    CHECK(description.text == urdf && description.joints.size() == 1 && description.joints[0].joint == "wing");
    CHECK(description.joints[0].left_out.find("without end") != std::string::npos && description.joints[0].unit == 0);
    CHECK(thrown([&] { robot.limits_into("<sdf/>"); }).status() == ELB_STATUS_FILE_SYNTAX);
    CHECK(thrown([&] { robot.joint("wnig"); }).status() == ELB_STATUS_UNKNOWN_JOINT);
    CHECK(thrown([&] { robot.joint("wnig"); }).what() == std::string("no joint is named \"wnig\"; the nearest name is \"wing\""));
    const elb::Error error = thrown([] { elb::Robot::parse("format = 1\nnmae = 1\n"); });
    CHECK(error.status() == ELB_STATUS_UNKNOWN_KEY && error.line() == 2 && error.column() == 1);
    CHECK(thrown([] { elb::Robot::load("/nowhere/heron.toml"); }).status() == ELB_STATUS_FILE_ACCESS);
    CHECK(thrown([&] { robot.save("/nowhere/at/all/heron.toml"); }).status() == ELB_STATUS_FILE_ACCESS);
    const std::vector<double> drive{10, 20, 30, 40, 50, 60}, measured{12.1, 21.9, 32.0, 42.2, 51.9, 62.0};
    elb_readings readings = elb::readings();
    readings.n = drive.size();
    readings.drive = drive.data();
    readings.measured = measured.data();
    CHECK(robot.with_fit("wing", elb::Fit(readings), "2026-11-20", ELB_MAP_KEPT).text().find("travel = [10, 60]") != std::string::npos);
}

static void the_rest() {
    elb_joint_config config = example();
    CHECK(thrown([&] { elb::Joint(config).angle_from_reading(500); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(thrown([&] { elb::Joint(config).command_from_reading(500); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(thrown([&] { elb::Joint(config).reading_from_command(90); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(thrown([&] { elb::Joint(config).reading_state(500); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(thrown([&] { elb::Joint(config).angle_per_reading(500); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(thrown([&] { elb::Joint(config).detects_wire_faults(); }).status() == ELB_STATUS_NO_FEEDBACK);
    elb_joint_config sensed = config;
    sensed.feedback.reading[1] = 800;
    sensed.feedback.angle[1] = 100;
    sensed.feedback.adc_bits = 10;
    CHECK(elb::Joint(sensed).angle_per_reading(500) == 0.125);
    CHECK(elb::Joint(sensed).detects_wire_faults() == std::make_pair(false, true));
    const std::vector<std::uint8_t> block = elb::Joint(config).block(5);
    std::uint16_t counts = 0;
    CHECK(elb_block_counts(block.data(), block.size(), 5, 10, &counts) == ELB_STATUS_OK && counts == 283);

    const std::vector<double> targets{0, 10}, positions{0.1, 10.1, 0.2, 10.2, 0.1, 10.1, 0.2, 10.2};
    const std::vector<std::int8_t> approach{ELB_APPROACH_BELOW, ELB_APPROACH_ABOVE, ELB_APPROACH_BELOW, ELB_APPROACH_ABOVE};
    elb::Positioning positioning(targets, approach, positions);
    CHECK(std::abs(std::abs(positioning.axis().reversal) - 0.1) < 1e-9 && positioning.target(1).target == 10);
    CHECK(thrown([&] { elb::Positioning(targets, approach, targets); }).status() == ELB_STATUS_LENGTH_MISMATCH);

    elb_session_config plan = elb::session_config();
    plan.start = 79.5;
    elb::Session session(plan);
    CHECK(session.next().question == ELB_QUESTION_READY && session.prompt().find("power switch") != std::string::npos);
    elb_report report{0, 0, ELB_ACTION_READ, 0};
    CHECK(thrown([&] { session.report(report); }).status() == ELB_STATUS_WRONG_REPORT);
    CHECK(thrown([&] { session.outcome(); }).status() == ELB_STATUS_ABSENT);
    elb::Session again = elb::Session::parse(session.json());
    {
        elb_bench_config typed_plan = elb::bench_config();
        typed_plan.start = 79.5;
        elb::Session typed(typed_plan);
        CHECK(thrown([&] { typed.undo(); }).status() == ELB_STATUS_ABSENT);
        elb_report done{};
        done.kind = ELB_ACTION_ASK, done.answer = ELB_ANSWER_DONE;
        typed.report(done);
        CHECK(typed.next().kind == ELB_ACTION_MOVE_TO && typed.prompt().find("move the drive to") != std::string::npos);
        typed.undo();
        CHECK(typed.next().question == ELB_QUESTION_READY);
    }
    again.report({0, 0, ELB_ACTION_ASK, ELB_ANSWER_NO});
    CHECK(again.outcome().verdict == ELB_OUTCOME_DECLINED);
    session.stop();
    CHECK(session.outcome().verdict == ELB_OUTCOME_STOPPED);
    const elb::Robot robot = elb::Robot::parse(
        "format = 1\n[joint.wing]\nchannel = 3\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
        "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n");
    const std::vector<std::uint8_t> of_robot = robot.block();
    CHECK(elb_block_counts(of_robot.data(), of_robot.size(), 3, 10, &counts) == ELB_STATUS_OK && counts == 283);
    CHECK(thrown([&] { robot.with_session("wing", session); }).status() == ELB_STATUS_ABSENT);
}

static const char two[] =
    "format = 1\nname = \"heron\"\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
    "timer = { frame_hz = 50, counts_per_frame = 4096 }\n"
    "check = { waive = [{ rule = \"rate-missing\", joint = \"wing\", reason = \"slow\" }] }\n"
    "[joint.wing]\nunit = \"deg\"\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
    "[joint.neck]\nunit = \"rad\"\ncommand = [-1, 1]\ndrive = [40, 140]\nrest = 0\nmax_rate_per_s = 2\n";

/// The calls of a control cycle: a status, no exception; and owners that are empty, moved, moved from.
static void cycles() {
    static_assert(std::is_nothrow_default_constructible_v<elb::Joint> && std::is_nothrow_move_constructible_v<elb::Joint> &&
                  std::is_nothrow_move_assignable_v<elb::Joint> && !std::is_copy_constructible_v<elb::Joint>);
    static_assert(std::is_nothrow_default_constructible_v<elb::Robot> && std::is_nothrow_move_assignable_v<elb::Robot>);
    static_assert(std::is_nothrow_default_constructible_v<elb::FollowCheck>);
    static_assert(std::is_nothrow_default_constructible_v<elb::Ramp> && std::is_nothrow_default_constructible_v<elb::Session>);
    static_assert(std::is_nothrow_default_constructible_v<elb::Fit> && std::is_nothrow_default_constructible_v<elb::Curve>);
    elb_error error;
    elb::Robot robot = elb::Robot::try_parse(two, error);
    CHECK(robot && robot.name() == "heron" && robot.find("neck") == 1);
    CHECK(!elb::Robot::try_parse("format = 2", error) && error.status == ELB_STATUS_FORMAT_TOO_NEW);
    CHECK(!elb::Robot::try_load("/nowhere/heron.toml", error) && error.status == ELB_STATUS_FILE_ACCESS);
    std::size_t place = 7, done = 7;
    CHECK(robot.try_find("nekc", place, &error) == ELB_STATUS_UNKNOWN_JOINT && place == 7);
    CHECK(std::string(error.message) == "no joint is named \"nekc\"; the nearest name is \"neck\"");
    CHECK(thrown([&] { robot.find("nekc"); }).status() == ELB_STATUS_UNKNOWN_JOINT);
    CHECK(robot.unit(0).code == ELB_UNIT_DEG && robot.unit(1).to_si == 1 && robot.unit(1).si == ELB_SI_RADIAN);
    elb_unit unit;
    elb_robot_entry entry;
    CHECK(robot.try_unit(2, unit) == ELB_STATUS_ABSENT && robot.try_entry(0, entry) == ELB_STATUS_OK);
    CHECK(robot.try_size(place) == ELB_STATUS_OK && place == 2 && !robot.try_joint(2) && robot.try_joint(1));

    double commands[] = {10, 0};
    std::uint32_t counts[2] = {7, 7}, flags[2] = {7, 7};
    CHECK(robot.try_counts(commands, counts, flags, done) == ELB_STATUS_OK && done == 2 && counts[0] == 283 && flags[1] == 0);
    robot.counts(commands, counts);
    commands[1] = NAN;
    elb::Error told = thrown([&] { robot.counts(commands, counts); });
    CHECK(told.index() == 1 && std::isnan(told.value()));
    CHECK(told.what() == std::string("the command at index 1, of joint \"neck\", is nan; give a finite number"));
    told = thrown([&] { robot.counts(elb::View<const double>(commands, 1), elb::View<std::uint32_t>(counts, 1)); });
    CHECK(told.status() == ELB_STATUS_LENGTH_MISMATCH);
    CHECK(told.what() == std::string("the number of commands is 1 and the number of joints of the robot is 2; they must be equal"));
    told = thrown([&] { robot.counts(commands, elb::View<std::uint32_t>(counts, 1)); });
    CHECK(std::string(told.what()).find("places for counts is 1 and the number of commands is 2") != std::string::npos);
    CHECK(robot.try_counts(commands, counts, elb::View<std::uint32_t>(flags, 1), done) == ELB_STATUS_LENGTH_MISMATCH);

    elb::Joint joint = elb::Joint::try_make(example(), error), empty;
    CHECK(joint && !empty && !joint.has_feedback());
    elb_conversion out{7, 7, 7};
    CHECK(joint.try_counts(10, out) == ELB_STATUS_OK && out.value == 283);
    CHECK(joint.try_drive(10, out) == ELB_STATUS_OK && out.value == 79.5 && joint.try_pulse_us(10, out) == ELB_STATUS_OK);
    CHECK(joint.try_drive(NAN, out) == ELB_STATUS_NOT_FINITE);
    CHECK(empty.try_counts(10, out) == ELB_STATUS_NULL_POINTER);
    CHECK(thrown([&] { empty.counts(10.0); }).status() == ELB_STATUS_NULL_POINTER);
    const std::string says = "An elb object is empty: made without arguments, moved from, or a try_ that failed.";
    CHECK(std::string(thrown([&] { empty.counts(10.0); }).what()).find(says) != std::string::npos);
    CHECK(std::string(thrown([&] { elb::Robot().findings(); }).what()).find("robot is NULL; give a valid pointer. " + says) == 0);
    elb::Joint moved = std::move(joint);
    CHECK(moved && !joint && joint.try_counts(10, out) == ELB_STATUS_NULL_POINTER && moved.counts(10.0).value == 283);
    joint = std::move(moved);
    CHECK(joint && !moved && joint.counts(10.0).value == 283 && elb::Joint::try_clone(joint) && !elb::Joint::try_clone(moved));
    elb_joint_config wrong = example();
    wrong.rest = 181;
    CHECK(!elb::Joint::try_make(wrong, error) && error.value == 181);
    double back = 7;
    CHECK(joint.try_command_from_counts(283u, back) == ELB_STATUS_OK && std::abs(back - 10) < 0.3);
    CHECK(joint.try_command_from_drive(79.5, back) == ELB_STATUS_OK && back == 10);
    CHECK(joint.try_command_from_pulse_us(1500, back) == ELB_STATUS_OK);
    CHECK(joint.try_drive_per_command(10, back) == ELB_STATUS_OK && back == 0.85);
    CHECK(joint.try_command_from_reading(500, back) == ELB_STATUS_NO_FEEDBACK);
    CHECK(joint.try_angle_from_reading(500, back) == ELB_STATUS_NO_FEEDBACK);
    CHECK(joint.try_reading_from_command(10, back) == ELB_STATUS_NO_FEEDBACK);
    CHECK(joint.try_reading_at_supply(500, 5, back) == ELB_STATUS_NO_FEEDBACK);
    std::uint32_t state = 7;
    CHECK(joint.try_reading_state(500, state) == ELB_STATUS_NO_FEEDBACK && state == 7);

    const std::vector<double> wide{-40, 10, INFINITY};
    const std::vector<float> narrow{-40, 10, 60};
    std::uint16_t few[3] = {7, 7, 7};
    std::uint32_t many[3];
    double angles[3];
    elb_tally tally;
    CHECK(joint.try_counts(wide, few, done) == ELB_STATUS_NOT_FINITE && done == 2 && few[1] == 283 && few[2] == 7);
    CHECK(joint.try_tally(wide, tally) == ELB_STATUS_NOT_FINITE);
    joint.counts(narrow, few);
    joint.counts(narrow, many);
    joint.drive(narrow, angles);
    CHECK(few[1] == 283 && many[1] == 283 && angles[2] == 122);
    joint.command_from_drive(angles, angles);
    CHECK(angles[0] == -40 && angles[2] == 60);
    joint.command_from_counts(few, angles);
    joint.command_from_counts(many, angles);
    joint.pulse_us(narrow, angles);
    joint.command_from_pulse_us(angles, angles);
    CHECK(std::abs(angles[1] - 10) < 1e-9);
#if defined(__cpp_lib_span)
    const std::span<std::uint16_t> span(few);
    joint.counts(std::span<const float>(narrow), span);
    CHECK(std::span<const float>(elb::View<const float>(narrow)).size() == 3);
#endif

    elb::Ramp ramp = elb::Ramp::try_of_joint(robot.joint("neck"), 0, 0, 0, 50, error), none;
    CHECK(ramp && !none && ramp.try_step(100, out) == ELB_STATUS_OK && out.value == 0.04);
    CHECK(out.flags == ELB_CLAMPED_TO_COMMAND && ramp.try_follow(NAN, back) == ELB_STATUS_NOT_FINITE);
    ramp.reset(0.5);
    CHECK(ramp.value() == 0.5 && ramp.try_reset(NAN) == ELB_STATUS_NOT_FINITE && ramp.step(0.5).flags == 0);
    CHECK(ramp.try_value(back) == ELB_STATUS_OK && back == 0.5 && none.try_reset(0) == ELB_STATUS_NULL_POINTER);
    CHECK(!elb::Ramp::try_of_joint(robot.joint("wing"), 0, 0, 0, 50, error) && error.status == ELB_STATUS_MISSING_KEY);
    CHECK(elb::Ramp::of_joint(robot.joint("wing"), 0, 60, 0, 50).follow(10) == 1.2);
    CHECK(ramp.try_limit(1, 0, 50, error) == ELB_STATUS_OK && none.try_limit(1, 0, 50, error) == ELB_STATUS_NULL_POINTER);
    ramp.change_joint(robot.joint("wing"), 5, 0, 50);
    CHECK(ramp.follow(10) == 0.6 && ramp.try_change_joint(robot.joint("wing"), 0, 0, 50, error) == ELB_STATUS_MISSING_KEY);

    elb_session_config plan = elb::session_config();
    plan.start = 79.5;
    elb::Session session = elb::Session::try_make(plan, error);
    elb_action action;
    elb_outcome outcome;
    CHECK(session && session.try_next(action) == ELB_STATUS_OK && action.question == ELB_QUESTION_READY);
    CHECK(session.try_report({0, 0, ELB_ACTION_READ, 0}) == ELB_STATUS_WRONG_REPORT);
    CHECK(session.try_outcome(outcome) == ELB_STATUS_ABSENT);
    plan.step = NAN;
    CHECK(!elb::Session::try_make(plan, error) && error.status == ELB_STATUS_NOT_FINITE);

    const elb::Robot fewer = robot.without_joint("neck");
    CHECK(fewer.size() == 1 && thrown([&] { fewer.joint("neck"); }).status() == ELB_STATUS_UNKNOWN_JOINT);
    CHECK(robot.waived().size() == 1 && robot.waived()[0].rule == "rate-missing" && robot.waived()[0].waiver == "slow");
    robot = elb::Robot();
    CHECK(!robot && thrown([&] { robot.size(); }).status() == ELB_STATUS_NULL_POINTER);

    const std::vector<double> drive{10, 20, 30, 40, 50, 60}, measured{12.1, 21.9, 32.0, 42.2, 51.9, 62.0};
    elb_readings good = elb::readings(), bad = elb::readings();
    good.n = bad.n = drive.size();
    good.drive = bad.drive = drive.data();
    good.measured = measured.data();
    bad.measured = drive.data();
    bad.n = 1;
    const elb_readings both[] = {bad, good};
    const std::vector<elb::FitOutcome> fits = elb::fit_many(both);
    CHECK(!fits[0].fit && fits[0].status == ELB_STATUS_TOO_FEW_READINGS && fits[0].message.find("reading") != std::string::npos);
    CHECK(fits[1].fit && fits[1].message.empty() && std::abs(fits[1].fit.expected(30) - 32) < 0.2);
    CHECK(thrown([&] { fits[1].fit.repeatability(); }).status() == ELB_STATUS_ABSENT);
    CHECK(elb::Fit::try_make(good, nullptr, error) && !elb::Fit::try_make(bad, nullptr, error));
    CHECK(std::string(elb::version()) == std::to_string(ELB_VERSION_MAJOR) + "." + std::to_string(ELB_VERSION_MINOR) + "." +
                                             std::to_string(ELB_VERSION_PATCH));
    CHECK(elb::version_number() == ELB_VERSION_NUMBER && std::string(elb::name(ELB_STATUS_OK)) == elb_status_name(ELB_STATUS_OK));
    CHECK(std::string(elb::text(ELB_STATUS_OVERLAP)) == elb_status_text(ELB_STATUS_OVERLAP));
}

/// A form without exceptions went well and gave what the throwing one gives.
#define SAME(status, quiet, loud) \
    do { \
        CHECK((status) == ELB_STATUS_OK); \
        CHECK((quiet) == (loud)); \
    } while (0)

static void quiet_joints_and_ramps() {
    const elb::Joint joint(example());
    elb_joint_config config;
    SAME(joint.try_config(config), config.rest, joint.config().rest);
    elb_joint_config fresh;
    SAME(elb::try_joint_config(fresh), fresh.size, elb::joint_config().size);
    std::pair<std::uint32_t, std::uint32_t> counts;
    SAME(joint.try_count_range(counts), counts, joint.count_range());
    bool has = true;
    SAME(joint.try_has_feedback(has), has, joint.has_feedback());
    std::size_t n = 9;
    SAME(joint.try_knots({nullptr, 0}, n), n, joint.knots().size() / 2);
    elb_conversion count;
    double commanded = 0;
    SAME(joint.try_counts_from_drive(30, count, commanded), commanded, joint.counts_from_drive(30).second);
    std::vector<std::uint8_t> image = joint.block(3), again(image.size());
    std::size_t length = 0;
    SAME(joint.try_block(3, {nullptr, 0}, length), length, image.size());
    SAME(joint.try_block(3, again, length), again, image);
    bool lower = true, upper = true;
    CHECK(joint.try_detects_wire_faults(lower, upper) == ELB_STATUS_NO_FEEDBACK && lower && upper);
    CHECK(elb::Joint().try_config(config) == ELB_STATUS_NULL_POINTER);

    elb_error error;
    elb::Ramp ramp = elb::Ramp::try_make(10, 60, 0, 50, error);
    CHECK(ramp && ramp.follow(20) == 11.2);
    SAME(ramp.try_rests_at(20, has), has, ramp.rests_at(20));
    CHECK(elb::Ramp::try_per_cycle(40, 2, 0.5, error).follow(45) == 40.5);
    CHECK(!elb::Ramp::try_make(0, 0, 0, 50, error) && error.status == ELB_STATUS_NOT_POSITIVE && error.value == 0);

    config.feedback.reading[0] = 212, config.feedback.reading[1] = 871;
    config.feedback.angle[0] = -40, config.feedback.angle[1] = 60;
    const elb::Joint sensed(config);
    elb::FollowCheck follows = elb::FollowCheck::try_make(60, 1, 4, 5, error), none;
    elb_following tick;
    CHECK(follows && !none && none.try_tick(0, 0, tick) == ELB_STATUS_NULL_POINTER);
    SAME(follows.try_tick_reading(sensed, 500, 871, tick), tick.measured, follows.tick_reading(sensed, 500, 871).measured);
    CHECK(tick.measured == 60 && tick.state == ELB_FOLLOW_FOLLOWS && follows.try_reset(0) == ELB_STATUS_OK);
    std::pair<double, double> expected;
    SAME(follows.try_expected(expected), expected.second, follows.expected().second);
    CHECK(expected.first == 0 && none.try_expected(expected) == ELB_STATUS_NULL_POINTER);
    SAME(follows.try_tick(0, 3, tick), tick.beyond, follows.tick(0, 3).beyond);
    CHECK(tick.beyond == 2 && follows.try_tick(NAN, 3, tick) == ELB_STATUS_NOT_FINITE && follows.try_reset(NAN) == ELB_STATUS_NOT_FINITE);
    CHECK(follows.try_tick_reading(joint, 0, 500, tick) == ELB_STATUS_NO_FEEDBACK && tick.beyond == 2);
    CHECK(!elb::FollowCheck::try_make(0, 1, -1, 5, error) && error.status == ELB_STATUS_OPTION_OUTSIDE);
}

static void quiet_fits() {
    const std::vector<double> drive{10, 20, 30, 40, 50, 60}, measured{12.1, 21.9, 32.0, 42.2, 51.9, 62.0};
    elb_readings readings;
    CHECK(elb::try_readings(readings) == ELB_STATUS_OK);
    readings.n = drive.size();
    readings.drive = drive.data();
    readings.measured = measured.data();
    elb_error error;
    const elb::Fit fit = elb::Fit::try_make(readings, nullptr, error);
    elb_fit_line line;
    SAME(fit.try_line(line), line.slope, fit.line().slope);
    elb_fit_end end;
    SAME(fit.try_lower(end), end.at, fit.lower().at);
    SAME(fit.try_upper(end), end.at, fit.upper().at);
    std::pair<double, double> travel;
    SAME(fit.try_travel(travel), travel, fit.travel());
    double value = 0, sd = 0;
    std::uint64_t dof = 0;
    SAME(fit.try_expected(30, value), value, fit.expected(30));
    CHECK(fit.try_repeatability(sd, dof) == thrown([&] { fit.repeatability(); }).status() && sd == 0 && dof == 0);
    bool said = false;
    SAME(fit.try_resolution(value, said), std::make_pair(value, said), fit.resolution());
    SAME(fit.try_approach_inferred(said), said, fit.approach_inferred());
    const char *text = nullptr;
    SAME(fit.try_lost_motion_text(text), std::string(text), fit.lost_motion_text());
    std::size_t n = 9;
    SAME(fit.try_rejected_count(n), n, fit.rejected().size());
    SAME(fit.try_warnings_count(n), n, fit.warnings().size());
    for (std::size_t i = 0; i < n; i++) SAME(fit.try_warnings(i, text), std::string(text), fit.warnings()[i]);
    elb_lost_motion lost;
    CHECK(fit.try_lost_motion(lost) == ELB_STATUS_ABSENT && fit.try_rejected_slip(0, text) == ELB_STATUS_ABSENT);
    std::vector<double> d(6), m(6);
    std::vector<std::int8_t> sides(6);
    SAME(fit.try_between_stops(readings, d, m, sides, n), n, fit.between_stops(readings).drive.size());
    CHECK(fit.try_between_stops(readings, {d.data(), 2}, m, sides, n, &error) == ELB_STATUS_NO_ROOM);
    CHECK(error.status == ELB_STATUS_NO_ROOM && std::string(error.message) == elb_status_text(ELB_STATUS_NO_ROOM));

    const elb_readings *both[] = {&readings, &readings};
    elb_fit *fits[2];
    elb_status statuses[2];
    elb_error errors[2];
    CHECK(elb::try_fit_many(both, nullptr, fits, statuses, errors) == ELB_STATUS_OK);
    for (elb_fit *one : fits) CHECK(elb::Fit(one).line().slope == fit.line().slope);
    CHECK(elb::try_fit_many(both, nullptr, {fits, 1}, statuses, errors, &error) == ELB_STATUS_LENGTH_MISMATCH);

    const elb::Comparison comparison = elb::Comparison::try_make(fit, fit, nullptr, error);
    SAME(comparison.try_is_changed(said), said, comparison.is_changed());
    SAME(comparison.try_diagnoses_count(n), n, comparison.diagnoses().size());
    elb_diagnosis diagnosis;
    SAME(comparison.try_diagnoses(0, diagnosis), diagnosis.kind, comparison.diagnoses()[0].kind);
    elb_change change;
    SAME(comparison.try_change(ELB_QUANTITY_OFFSET, change), change.smallest, comparison.change(ELB_QUANTITY_OFFSET).smallest);

    const elb::Line straight = elb::Line::try_make(drive, measured, {nullptr, 0}, {nullptr, 0}, error);
    elb_line_values values;
    SAME(straight.try_values(values), values.dof, straight.values().dof);
    elb_estimate estimate;
    SAME(straight.try_predict(30, 0, estimate), estimate.value, straight.predict(30).value);
    const std::vector<double> seen{45};
    SAME(straight.try_inverse(seen, 0, estimate), estimate.value, straight.inverse(seen).value);
    CHECK(!elb::Line::try_make(drive, seen, {nullptr, 0}, {nullptr, 0}, error) && error.status == ELB_STATUS_LENGTH_MISMATCH);
    const elb::Curve curve = elb::Curve::try_make(drive, measured, 3, {nullptr, 0}, error);
    elb_curve_knot knot;
    SAME(curve.try_knots(0, knot), knot.measured, curve.knots()[0].measured);
    SAME(curve.try_expected(30, value), value, curve.expected(30));
    SAME(curve.try_expected(30, ELB_APPROACH_UNKNOWN, value), value, curve.expected(30, ELB_APPROACH_UNKNOWN));
    const elb::Choice choice = elb::Choice::try_make(drive, measured, {nullptr, 0}, 3, {nullptr, 0}, error);
    SAME(choice.try_best(n), n, choice.best());
    SAME(choice.try_candidates_count(n), n, choice.candidates().size());
    elb::LineRef chosen(nullptr);
    SAME(choice.try_line(0, chosen), chosen.values().dof, straight.values().dof);
    elb::LinkageRef none(nullptr);
    CHECK(choice.try_linkage(0, none) == ELB_STATUS_ABSENT && !none);
    CHECK(!elb::Linkage::try_make(drive, seen, elb_mechanism{}, {nullptr, 0}, error) && error.status == ELB_STATUS_LENGTH_MISMATCH);
    CHECK(!elb::Positioning::try_make(drive, sides, drive, error) && error.status == ELB_STATUS_LENGTH_MISMATCH);
}

static void quiet_sessions_and_robots() {
    elb_error error;
    elb_session_config plan;
    CHECK(elb::try_session_config(plan) == ELB_STATUS_OK);
    plan.start = 79.5;
    elb::Session session = elb::Session::try_make(plan, error);
    std::size_t length = 0;
    CHECK(session.try_json({nullptr, 0}, length) == ELB_STATUS_OK);
    std::vector<char> text(length + 1);
    SAME(session.try_json(text, length), std::string(text.data()), session.json());
    CHECK(elb::Session::try_parse({text.data(), length}, error) && !elb::Session::try_parse("{}", error));
    CHECK(session.try_stop() == ELB_STATUS_OK);
    CHECK(session.outcome().verdict == ELB_OUTCOME_STOPPED);
    elb_bench_config typed;
    CHECK(elb::try_bench_config(typed) == ELB_STATUS_OK);
    typed.start = 79.5;
    elb::Session bench = elb::Session::try_make(typed, error);
    CHECK(bench && bench.try_undo() == ELB_STATUS_ABSENT);

    const elb::Robot robot = elb::Robot::try_parse(two, error);
    const char *said = nullptr;
    SAME(robot.try_name(said), std::string(said), robot.name());
    SAME(robot.try_text(said), std::string(said), robot.text());
    CHECK(robot.try_joint("neck") && !robot.try_joint("nekc"));
    CHECK(robot.try_save("/nowhere/at/all/heron.toml", &error) == ELB_STATUS_FILE_ACCESS && error.status == ELB_STATUS_FILE_ACCESS);
    std::size_t n = 0;
    const elb::Robot alone = robot.try_without_joint("neck", error);
    CHECK(alone && alone.try_size(n) == ELB_STATUS_OK && n == 1 && !robot.try_without_joint("nekc", error));
    const elb::Robot with_neck = robot.try_with_joint("neck", robot.joint("wing").config(), error);
    CHECK(with_neck.joint("neck").config().rest == 10);
    CHECK(!robot.try_with_session("wing", session, nullptr, ELB_MAP_JUDGED, error) && error.status == ELB_STATUS_ABSENT);
    const elb::Findings found = robot.try_findings("2026-11-25", {}, error);
    SAME(found.try_open_count(n), n, robot.findings("2026-11-25").size());
    elb_finding finding;
    SAME(found.try_open(0, finding), std::string(finding.message), robot.findings("2026-11-25")[0].message);
    SAME(found.try_waived_count(n), n, robot.waived("2026-11-25").size());
    CHECK(robot.try_waived(nullptr, error) && !robot.try_findings("no day", {}, error));
    const elb::Limits limits = robot.try_limits_into("<robot><joint name=\"wing\" type=\"continuous\"/></robot>", error);
    elb_description_joint joint;
    CHECK(limits.try_joint_count(n) == ELB_STATUS_OK && n >= 1 && limits.try_joint(0, joint) == ELB_STATUS_OK);
    CHECK(!robot.try_limits_into("<sdf/>", error) && error.status == ELB_STATUS_FILE_SYNTAX);
}

int main() {
    quiet_joints_and_ramps();
    quiet_fits();
    quiet_sessions_and_robots();
    cycles();
    joints();
    the_rest();
    exceptions();
    names();
    fits();
    transmissions();
    robots();
    std::printf("%s - elbowroom.hpp\n", failed == 0 ? "ok" : "not ok");
    return failed != 0;
}
