#include <stdio.h>

int main(void)
{
    puts("thrum " THRUM_VERSION);
    return 0;
}
