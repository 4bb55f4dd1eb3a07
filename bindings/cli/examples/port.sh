#!/bin/sh
# Answers `elbowroom bring-up --through` with commands of your own:
#
#     elbowroom bring-up heron.toml --joint wing_left --through 'sh port.sh ./move ./read'
#
# The first is called with a pulse width in us and moves the servo there, the second prints one reading.
# Questions go to the person at the terminal. Where ANSWER is set (for a simulation) the stop is answered to what the joint meets,
# and done to everything else.
move=$1
read_joint=$2
number() { printf '%s\n' "$step" | sed -n "s/.*\"$1\":\([-0-9.e]*\).*/\1/p"; }
while IFS= read -r step; do
    case $step in
    *'"kind":"done"'*) exit 0 ;;
    *'"kind":"move-to"'*)
        if $move "$(number pulse_us)" >&2; then echo '{"answer":"done"}'; else echo '{"error":"the servo did not move"}'; fi ;;
    *'"kind":"wait"'*)
        [ -n "$ANSWER" ] || sleep "$(number seconds)"
        echo '{"answer":"done"}' ;;
    *'"kind":"read"'*) echo "{\"reading\":$($read_joint)}" ;;
    *'"question":"stays-behind"'*) if [ -n "$ANSWER" ]; then echo '{"answer":"stop"}'; else echo '{"person":true}'; fi ;;
    *) if [ -n "$ANSWER" ]; then echo '{"answer":"done"}'; else echo '{"person":true}'; fi ;;
    esac
done
