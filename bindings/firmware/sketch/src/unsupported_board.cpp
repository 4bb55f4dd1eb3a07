// Compiled only where no archive fits the board.
#error "elbowroom: no archive for this board. Build one from the elbowroom sources (bindings/firmware/README.md) and put it into src/{build.mcu}/."
