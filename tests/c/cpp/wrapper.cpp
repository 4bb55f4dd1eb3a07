// elbowroom.hpp: owners, views, exceptions.
#include <elbowroom.hpp>

#include <array>
#include <cmath>
#include <cstdio>

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
    config.command[1] = 180;
    config.drive[0] = 5;
    config.drive[1] = 80;
    config.rest = 90;
    config.servo_pulse_us[0] = 500;
    config.servo_pulse_us[1] = 2500;
    config.counts = 4096;
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

static void joints() {
    static_assert(!std::is_copy_constructible_v<elb::Joint> && std::is_nothrow_move_constructible_v<elb::Joint>);
    elb::Joint first(example());
    elb::Joint joint = std::move(first);
    CHECK(joint.drive(90.0).value == 42.5);
    CHECK(joint.pulse_us(90.0).value == 500.0 + 2000.0 * 42.5 / 180.0);
    CHECK(joint.counts(90.0) == 199);
    CHECK(joint.command_from_drive(42.5) == 90.0);
    CHECK(std::abs(joint.command_from_pulse_us(500.0 + 2000.0 * 42.5 / 180.0) - 90.0) < 1e-9);
    CHECK(std::abs(joint.command_from_counts(199) - 90.0) < 1);
    CHECK(joint.count_range() == std::make_pair(std::uint32_t(114), std::uint32_t(284)));
    CHECK(elb::Joint::clone(joint).config().rest == 90.0);

    std::vector<double> commands{0, 90, 180, 200};
    const std::array<double, 2> fixed{0, 180};
    double plain[] = {90};
    CHECK((joint.counts(commands) == std::vector<std::uint32_t>{114, 199, 284, 284}));
    CHECK(joint.counts(fixed).size() == 2 && joint.counts(plain)[0] == 199);
    CHECK(joint.tally(commands).clamped_to_command == 1);
    std::vector<std::uint16_t> narrow(4);
    joint.counts(commands, narrow);
    CHECK(narrow[1] == 199);
    joint.pulse_us(fixed, elb::View<double>(plain, 1).size() == 1 ? elb::View<double>(commands.data(), 2) : plain);
    commands = {0, 90, 180, 200};
    joint.drive(commands, commands);
    CHECK((commands == std::vector<double>{5, 42.5, 80, 80}));
}

static void exceptions() {
    elb::Joint joint(example());
    elb::Error error = thrown([&] { joint.counts(NAN); });
    CHECK(error.status() == ELB_STATUS_NOT_FINITE && std::string(error.what()) == elb_status_text(ELB_STATUS_NOT_FINITE));
    std::vector<double> commands{0, 90, INFINITY};
    error = thrown([&] { joint.counts(commands); });
    CHECK(error.status() == ELB_STATUS_NOT_FINITE && error.index() == 2);
    double small[1];
    error = thrown([&] { joint.drive(commands, small); });
    CHECK(error.status() == ELB_STATUS_LENGTH_MISMATCH);
    CHECK(error.what() == std::string("Two arrays that belong together differ in length."));
    elb_joint_config config = example();
    config.rest = 181;
    error = thrown([&] { elb::Joint refused(config); });
    CHECK(error.status() == ELB_STATUS_REST_OUTSIDE && error.value() == 181);
    CHECK(std::string(error.what()) == "rest 181 is outside command 0 to 180; choose a rest inside the command range");
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
    CHECK(fit.lower().kind == ELB_END_REACHED && fit.upper().at == 60.0);
    CHECK(fit.rejected().empty());
    const elb::Comparison comparison(fit, fit);
    CHECK(comparison.diagnoses().size() == 1 && comparison.diagnoses()[0].kind == ELB_DIAGNOSIS_UNCHANGED);
    CHECK(comparison.change(ELB_QUANTITY_OFFSET).verdict == ELB_VERDICT_SAME);
    CHECK(fit.warnings().size() < 10);
    CHECK(thrown([&] { fit.lost_motion(); }).status() == ELB_STATUS_ABSENT);
    CHECK(fit.lost_motion_text().find("not determinable") != std::string::npos);
    readings.n = 1;
    CHECK(thrown([&] { elb::Fit refused(readings); }).status() == ELB_STATUS_TOO_FEW_READINGS);
}

static void robots() {
    const std::string text = "format = 1\n[joint.wing]\ncommand = [0, 180]\ndrive = [5, 80]\nrest = 90\n"
                             "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
                             "timer = { frame_hz = 50, counts = 4096 }\n";
    const elb::Robot robot = elb::Robot::parse(text);
    CHECK(robot.text() == text && robot.size() == 1 && std::string(robot.entry(0).name) == "wing");
    CHECK(robot.joint("wing").counts(90.0) == 199 && robot.joint(0).handle() == robot.joint("wing").handle());
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
    CHECK(thrown([&] { robot.joint("wnig"); }).status() == ELB_STATUS_UNKNOWN_JOINT);
    const elb::Error error = thrown([] { elb::Robot::parse("format = 1\nnmae = 1\n"); });
    CHECK(error.status() == ELB_STATUS_UNKNOWN_KEY && error.line() == 2 && error.column() == 1);
    CHECK(thrown([] { elb::Robot::load("/nowhere/heron.toml"); }).status() == ELB_STATUS_FILE_ACCESS);
    CHECK(thrown([&] { robot.save("/nowhere/at/all/heron.toml"); }).status() == ELB_STATUS_FILE_ACCESS);
    const std::vector<double> drive{10, 20, 30, 40, 50, 60}, measured{12.1, 21.9, 32.0, 42.2, 51.9, 62.0};
    elb_readings readings = elb::readings();
    readings.n = drive.size();
    readings.drive = drive.data();
    readings.measured = measured.data();
    CHECK(robot.with_fit("wing", elb::Fit(readings), "2026-11-20").text().find("travel = [10, 60]") != std::string::npos);
}

static void the_rest() {
    elb_joint_config config = example();
    CHECK(thrown([&] { elb::Joint(config).angle_from_reading(500); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(thrown([&] { elb::Joint(config).command_from_reading(500); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(thrown([&] { elb::Joint(config).reading_from_command(90); }).status() == ELB_STATUS_NO_FEEDBACK);
    CHECK(thrown([&] { elb::Joint(config).reading_state(500); }).status() == ELB_STATUS_NO_FEEDBACK);
    const std::vector<std::uint8_t> block = elb::Joint(config).block(5);
    std::uint16_t counts = 0;
    CHECK(elb_block_counts(block.data(), block.size(), 5, 90, &counts) == ELB_STATUS_OK && counts == 199);

    const std::vector<double> targets{0, 10}, positions{0.1, 10.1, 0.2, 10.2, 0.1, 10.1, 0.2, 10.2};
    const std::vector<std::int8_t> approach{ELB_APPROACH_BELOW, ELB_APPROACH_ABOVE, ELB_APPROACH_BELOW, ELB_APPROACH_ABOVE};
    elb::Positioning positioning(targets, approach, positions);
    CHECK(std::abs(std::abs(positioning.axis().reversal) - 0.1) < 1e-9 && positioning.target(1).target == 10);
    CHECK(thrown([&] { elb::Positioning(targets, approach, targets); }).status() == ELB_STATUS_LENGTH_MISMATCH);

    elb_session_config plan = elb::session_config();
    plan.start = 42.5;
    elb::Session session(plan);
    CHECK(session.next().question == ELB_QUESTION_READY && session.text().find("power switch") != std::string::npos);
    elb_report report{0, 0, ELB_ACTION_READ, 0};
    CHECK(thrown([&] { session.report(report); }).status() == ELB_STATUS_WRONG_REPORT);
    CHECK(thrown([&] { session.outcome(); }).status() == ELB_STATUS_ABSENT);
    elb::Session again = elb::Session::load(session.save());
    again.report({0, 0, ELB_ACTION_ASK, ELB_ANSWER_NO});
    CHECK(again.outcome().verdict == ELB_OUTCOME_DECLINED);
    session.stop();
    CHECK(session.outcome().verdict == ELB_OUTCOME_STOPPED);
    const elb::Robot robot = elb::Robot::parse(
        "format = 1\n[joint.wing]\nchannel = 8\ncommand = [0, 180]\ndrive = [5, 80]\nrest = 90\n"
        "servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts = 4096 }\n");
    const std::vector<std::uint8_t> of_robot = robot.block();
    CHECK(elb_block_counts(of_robot.data(), of_robot.size(), 8, 90, &counts) == ELB_STATUS_OK && counts == 199);
    CHECK(thrown([&] { robot.with_session("wing", session); }).status() == ELB_STATUS_ABSENT);
}

int main() {
    joints();
    the_rest();
    exceptions();
    fits();
    robots();
    std::printf("%s - elbowroom.hpp\n", failed == 0 ? "ok" : "not ok");
    return failed != 0;
}
