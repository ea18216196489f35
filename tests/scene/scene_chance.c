// scene_chance.c: chance that comes out the same everywhere (splitmix64).
#include "scene.h"

double scene_chance(uint64_t *state)
{
    uint64_t z = *state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

double scene_between(uint64_t *state, double low, double high)
{
    return low + (high - low) * scene_chance(state);
}

double scene_normal(uint64_t *state)
{
    double sum = -6.0;
    for (int i = 0; i < 12; i++) {
        sum += scene_chance(state);
    }
    return sum;
}
