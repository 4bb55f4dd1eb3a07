// Answers commands on the serial line with timer counts.
//
//   asks     3 10          channel and command, one pair a line
//   answers  283           the timer count of the pulse
//            380 clamped   the count of the nearest command or drive angle that is allowed
//            refused 85    a status of elbowroom.h, here ELB_STATUS_UNKNOWN_CHANNEL
//
// Unload the drive before the first move, keep a hand on the power switch, and make that move slow.
#include <elbowroom.h>
#include "heron_block.h"  // Made by `elbowroom firmware` from a robot file.

// On an AVR the block stands in flash, which has calls of its own.
#if defined(__AVR__)
#define IN_FLASH(call) elb_block_##call##_flash
#else
#define IN_FLASH(call) elb_block_##call
#endif

static bool block_is_good;

void setup() {
    Serial.begin(115200);
    elb_status status = IN_FLASH(check)(heron_block, sizeof heron_block);
    block_is_good = status == ELB_STATUS_OK;
    Serial.println(block_is_good ? "ready" : "no good block: drive nothing");
}

void loop() {
    if (!block_is_good || !Serial.available()) return;
    long channel = Serial.parseInt();
    float command = Serial.parseFloat();
    Serial.readStringUntil('\n');

    elb_block_conversion pulse;
    elb_status status = IN_FLASH(convert)(heron_block, sizeof heron_block, (uint16_t)channel, command, &pulse);
    if (status != ELB_STATUS_OK) {
        Serial.print("refused ");
        Serial.println((long)status);
        return;
    }
    Serial.print((unsigned long)pulse.counts);
    bool clamped = pulse.flags & (ELB_CLAMPED_TO_COMMAND | ELB_CLAMPED_TO_TRAVEL);
    Serial.println(clamped ? " clamped" : "");
}
