// Runs the shared vectors in a C++ program.
#include "../suite/check.h"

extern "C" void test_vectors(void);
int checks_failed = 0;
int checks_made = 0;

int main() {
    test_vectors();
    printf("%s - vectors in C++ (%d checks)\n", checks_failed == 0 ? "ok" : "not ok", checks_made);
    return checks_failed != 0;
}
