/* Robot descriptions: URDF as a second opinion, limits written into URDF and MJCF. */
#include "check.h"

/* Invented: a neck with a travel of its own, and a beak in parts of a whole. */
static const char ROBOT[] =
    "format = 1\n"
    "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
    "timer = { frame_hz = 50, counts_per_frame = 4096 }\n"
    "[joint.neck]\nunit = \"deg\"\ncommand = [-90, 45]\ndrive = [0, 135]\nrest = 0\n"
    "[joint.beak]\nunit = \"fraction\"\ncommand = [0, 1]\ndrive = [10, 60]\nrest = 0\n";

static const char URDF[] =
    "<robot name=\"heron\"><!-- guessed -->\n"
    "<joint name=\"neck\" type=\"revolute\"><mimic joint=\"beak\"/><limit effort=\"1\" velocity=\"1\" lower=\"-2\" upper=\"2\"/></joint>\n"
    "<joint name=\"beak\" type=\"revolute\"><limit effort=\"1\" velocity=\"1\" lower=\"-2\" upper=\"2\"/></joint></robot>";

static const char WRITTEN[] =
    "<robot name=\"heron\"><!-- guessed -->\n"
    "<joint name=\"neck\" type=\"revolute\"><mimic joint=\"beak\"/><limit effort=\"1\" velocity=\"1\" lower=\"-1.5707963267948966\" "
    "upper=\"0.7853981633974483\"/></joint>\n"
    "<joint name=\"beak\" type=\"revolute\"><limit effort=\"1\" velocity=\"1\" lower=\"-2\" upper=\"2\"/></joint></robot>";

static const char MJCF[] = "<mujoco><worldbody><body><joint name=\"neck\"/></body></worldbody></mujoco>";

static int fires(const elb_findings *findings, const char *rule) {
    size_t i, n = 0;
    OK(elb_findings_count(findings, &n));
    for (i = 0; i < n; i++) {
        elb_finding finding;
        OK(elb_findings_at(findings, i, &finding));
        if (!strcmp(finding.rule, rule)) return 1;
    }
    return 0;
}

void test_description(void) {
    elb_error error;
    elb_robot *robot = NULL;
    elb_description *description = NULL;
    elb_description_joint joint;
    elb_findings *findings = NULL;
    const char *text = NULL;
    size_t n = 0;
    OK(elb_robot_parse(ROBOT, sizeof ROBOT - 1, &robot, &error));

    OK(elb_robot_limits_into(robot, URDF, sizeof URDF - 1, &description, &error));
    OK(elb_description_text(description, &text));
    CHECK(!strcmp(text, WRITTEN));
    OK(elb_description_joint_count(description, &n));
    CHECK(n == 2);
    OK(elb_description_joint_at(description, 0, &joint));
    CHECK(!strcmp(joint.joint, "neck") && joint.left_out == NULL && joint.unit == ELB_UNIT_RAD && joint.reserved == 0);
    CHECK(joint.lower == -1.5707963267948966 && joint.upper == 0.7853981633974483);
    OK(elb_description_joint_at(description, 1, &joint));
    CHECK(!strcmp(joint.joint, "beak") && strstr(joint.left_out, "unit") != NULL && joint.unit == 0 && joint.lower != joint.lower);
    EXPECT(ELB_STATUS_ABSENT, elb_description_joint_at(description, 2, &joint));
    elb_description_free(description);
    description = NULL;

    OK(elb_robot_limits_into(robot, MJCF, sizeof MJCF - 1, &description, NULL));
    OK(elb_description_text(description, &text));
    CHECK(strstr(text, "<joint name=\"neck\" range=\"-90 45\" limited=\"true\"/>") != NULL);
    OK(elb_description_joint_at(description, 0, &joint));
    CHECK(joint.unit == ELB_UNIT_DEG);
    elb_description_free(description);
    description = NULL;

    EXPECT(ELB_STATUS_FILE_SYNTAX, elb_robot_limits_into(robot, "<sdf/>", 6, &description, &error));
    EXPECT(ELB_STATUS_FILE_SYNTAX, elb_robot_limits_into(robot, URDF, 20, &description, &error));
    CHECK(error.line == 1 && description == NULL);

    OK(elb_robot_check_urdf(robot, "2026-11-20", URDF, sizeof URDF - 1, &findings, &error));
    CHECK(fires(findings, "urdf-joint-mimics") && fires(findings, "urdf-limit-unreachable"));
    elb_findings_free(findings);
    findings = NULL;
    EXPECT(ELB_STATUS_FILE_SYNTAX, elb_robot_check_urdf(robot, NULL, "<sdf/>", 6, &findings, &error));
    EXPECT(ELB_STATUS_WRONG_TYPE, elb_robot_check_urdf(robot, "20.11.2026", URDF, sizeof URDF - 1, &findings, &error));
    CHECK(findings == NULL);

    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_check_urdf(NULL, NULL, URDF, sizeof URDF - 1, &findings, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_check_urdf(robot, NULL, NULL, 1, &findings, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_check_urdf(robot, NULL, URDF, sizeof URDF - 1, NULL, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_limits_into(NULL, URDF, sizeof URDF - 1, &description, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_limits_into(robot, NULL, 1, &description, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_limits_into(robot, URDF, sizeof URDF - 1, NULL, &error));
    OK(elb_robot_limits_into(robot, URDF, sizeof URDF - 1, &description, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_description_text(NULL, &text));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_description_text(description, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_description_joint_count(NULL, &n));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_description_joint_count(description, NULL));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_description_joint_at(NULL, 0, &joint));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_description_joint_at(description, 0, NULL));
    elb_description_free(description);
    elb_description_free(NULL);
    elb_robot_free(robot);
}
