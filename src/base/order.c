#include "base/order.h"

/* Shell 1959, halving the gap; from memory. */
void thrum_order(double *x, int n)
{
    for (int gap = n / 2; gap > 0; gap /= 2)
        for (int i = gap; i < n; i++) {
            double moved = x[i];
            int at = i;
            for (; at >= gap && x[at - gap] > moved; at -= gap)
                x[at] = x[at - gap];
            x[at] = moved;
        }
}
