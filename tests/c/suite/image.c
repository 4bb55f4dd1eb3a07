/* Blocks written by the library, and read in place by its block calls: the same counts as the joint's own. */
#include "check.h"
#include <stdlib.h>

static const char heron[] = "format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
                            "timer = { frame_hz = 50, counts_per_frame = 4096 }\n"
                            "[joint.wing]\nboard = \"breast\"\nchannel = 3\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n"
                            "[joint.neck]\nboard = \"breast\"\nchannel = 5\ncommand = [0, 90]\ndrive = [10, 60]\nrest = 0\n";

static void of_robot(void) {
    uint8_t image[512];
    size_t length = 0;
    elb_robot *robot = NULL;
    elb_error error;
    uint16_t counts = 0;
    memset(image, 7, sizeof image);
    OK(elb_robot_parse(heron, strlen(heron), &robot, NULL));
    OK(elb_robot_block(robot, "breast", NULL, 0, &length, &error));
    CHECK(length > 100 && length < sizeof image);
    EXPECT(ELB_STATUS_NO_ROOM, elb_robot_block(robot, "breast", image, length - 1, NULL, &error));
    CHECK(image[0] == 7 && strstr(error.message, "bytes; ") != NULL);
    OK(elb_robot_block(robot, NULL, image, sizeof image, &length, &error));
    CHECK(image[length] == 7);
    OK(elb_block_counts(image, length, 3, 10, &counts));
    CHECK(counts == 283);
    OK(elb_block_counts(image, length, 5, 0, &counts));
    EXPECT(ELB_STATUS_UNKNOWN_CHANNEL, elb_block_counts(image, length, 4, 0, &counts));
    EXPECT(ELB_STATUS_UNKNOWN_JOINT, elb_robot_block(robot, "tail", image, sizeof image, &length, &error));
    CHECK(strstr(error.message, "no joint is on board tail") != NULL);
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_block(NULL, NULL, image, sizeof image, &length, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_robot_block(robot, NULL, NULL, 8, &length, &error));
    elb_robot_free(robot);
}

static void of_joint(void) {
    elb_joint *joint = example_joint();
    uint8_t image[512];
    size_t length = 0;
    elb_error error;
    uint16_t counts = 0;
    OK(elb_joint_block(joint, 5, image, sizeof image, &length, NULL));
    OK(elb_block_counts(image, length, 5, 10, &counts));
    CHECK(counts == 283);
    EXPECT(ELB_STATUS_NO_ROOM, elb_joint_block(joint, 5, image, length - 1, NULL, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_block(NULL, 5, image, sizeof image, &length, &error));
    EXPECT(ELB_STATUS_NULL_POINTER, elb_joint_block(joint, 5, NULL, 8, &length, &error));
    elb_joint_free(joint);
}

/* One joint more than a block can hold. */
static void full(void) {
    enum { JOINTS = 65536, EACH = 96 };
    char *text = (char *)malloc((size_t)JOINTS * EACH + 256);
    size_t used = 0;
    elb_robot *robot = NULL;
    elb_error error;
    int i;
    error.message[0] = 0;
    used += (size_t)sprintf(text, "format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
                                  "timer = { frame_hz = 50, counts_per_frame = 4096 }\n");
    for (i = 0; i < JOINTS; i++)
        used += (size_t)sprintf(text + used, "[joint.j%d]\nchannel = 1\ncommand = [0, 9]\ndrive = [37, 122]\nrest = 1\n", i);
    OK(elb_robot_parse(text, used, &robot, &error));
    SAYS(ELB_STATUS_BLOCK_FULL, elb_robot_block(robot, NULL, NULL, 0, NULL, &error), error, "cannot hold");
    CHECK(strstr(error.message, "65536") != NULL);
    printf("# %s\n", error.message);
    elb_robot_free(robot);
    free(text);
}

void test_image(void) {
    of_robot();
    of_joint();
    /* Minutes under valgrind. */
    if (getenv("ELB_TEST_FEWER") == NULL) full();
}
