"""Looks through a compiler's work for upper lanes that were lost.

LLVM's register coalescer takes the copy of a register's lower 64 bits (class fr64) for the whole register (vr128) where
both meet the same value again. If that copy is spilled, 64 bits are stored and the upper lane comes back as 0: a travel
of 5 to 80 became one of 5 to 0. Seen with LLVM 22.1 on x86-64, in safe code; the machine verifier says nothing.

Reads on standard input what `-print-after=register-coalescer` prints, and prints each 128-bit register that may hold
such a copy where its upper lane is read or stored. Exit status 1 if there is one, 2 if there was nothing to look at.
"""

import re
import sys
from collections.abc import Iterator

BLOCK = re.compile(r"(?:\d+B\t)?\s*bb\.(\d+)\b.*:\s*$")
DEFINITION = re.compile(r"(?:undef |dead )*(%\d+)(?:\.\w+)?:(vr128|fr64)x?(?:\(tied-def \d\))? = (.*)")
COPY = re.compile(r"COPY (?:killed )?(%\d+):(vr128|fr64)x?$")
SOURCE = re.compile(r"(?<!undef )(%\d+):vr128")
TIED = re.compile(r"(%\d+):\w+\(tied-def")
# Arithmetic on the lower lane passes the upper one on.
ON_LOWER = re.compile(r"\bV?(ADD|SUB|MUL|DIV|MIN|MAX|SQRT)C?SD")
# What needs the upper lane. Arithmetic on both does not: where only the lower is asked for, the upper may be anything.
NEEDS_UPPER = re.compile(r"\bV?(MOV[AU]P[SD]mr|MOVDQ[AU]mr|MOVHP[SD]mr|UNPCKHPDrr|SHUFPDrri|PERMILPDri|PSHUFDri|MOVHLPSrr)\b")

State = dict[str, str]  # registers whose upper lane may be lost, and where


def after(state: State, instruction: str) -> State:
    definition = DEFINITION.match(instruction)
    if not definition:
        return state
    register, kind, right = definition.groups()
    lost = None
    if copy := COPY.match(right.strip()):
        narrowed = kind == "vr128" and copy[2] == "fr64"
        lost = state.get(copy[1], instruction if narrowed else None)
    elif (tied := TIED.search(right)) and ON_LOWER.search(right):
        lost = state.get(tied[1])
    rest = {other: why for other, why in state.items() if other != register}
    return rest if lost is None else rest | {register: lost}


def lost_lanes(lines: list[str]) -> Iterator[tuple[str, str]]:
    """Where an upper lane was lost and where it is needed, of one function."""
    bodies: dict[int, list[str]] = {}
    successors: dict[int, list[int]] = {}
    block = None
    for line in lines:
        if head := BLOCK.match(line):
            block = int(head[1])
            bodies[block], successors[block] = [], []
        elif block is not None and "predecessors:" not in line:
            if "successors:" in line:
                successors[block] = [int(n) for n in re.findall(r"%bb\.(\d+)", line.split(";")[0])]
            elif ":vr128" in line or ":fr64" in line:
                bodies[block].append(re.sub(r"^\d+B\t?", "", line).strip())
    entering: dict[int, State] = {block: {} for block in bodies}
    waiting = list(bodies)
    while waiting:
        block = waiting.pop()
        state = entering[block]
        for instruction in bodies[block]:
            state = after(state, instruction)
        for successor in successors[block]:
            joined = state | entering.get(successor, state)
            if successor in entering and len(joined) > len(entering[successor]):
                entering[successor] = joined
                waiting.append(successor)
    for block, body in bodies.items():
        state = entering[block]
        for instruction in body:
            if needs := NEEDS_UPPER.search(instruction):
                for register in SOURCE.findall(instruction[needs.end() :]):
                    if register in state:
                        yield state[register], instruction
            state = after(state, instruction)


def functions(lines: Iterator[str]) -> Iterator[tuple[str, list[str]]]:
    name, body = "", []
    for line in lines:
        if "IR Dump After" in line:
            if name:
                yield name, body
            name, body = "", []
        elif not name and line.startswith("# Machine code for function"):
            name = line.split()[5]
        body.append(line.rstrip("\n"))
    if name:
        yield name, body


def main() -> int:
    looked_at = found = 0
    sys.stdin.reconfigure(errors="replace")
    for name, body in functions(sys.stdin):
        looked_at += 1
        for lost, needed in lost_lanes(body):
            found += 1
            print(f"{name}\n  lost in    {lost}\n  needed in  {needed}")
    print(f"# {looked_at} functions, {found} upper lanes lost")
    return 1 if found else 0 if looked_at else 2


sys.exit(main())
