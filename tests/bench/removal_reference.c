/* The opponent: a swept heightfield by brute force, as a good C programmer would write it.
 *
 * One bounding box per segment, every cell in it, no knowledge of what was cut before. Single
 * precision throughout, no branches in the inner loop, so that the compiler fills whole vectors.
 * Threads share the grid in bands of rows; each goes through all segments and takes those that
 * touch its band.
 *
 *   gcc -O3 -march=native -ffast-math -shared -fPIC -o removal_reference.so removal_reference.c
 *
 * Segments are n rows of x0 y0 z0 x1 y1 z1, relative to the centre of the cell [0, 0], in mm. Where
 * a row of cells begins is worked out in double precision, so that a large grid costs no accuracy.
 */
#include <math.h>
#include <pthread.h>
#include <stddef.h>
#include <stdint.h>

#define MAX_THREADS 64

typedef struct {
    float *height;
    ptrdiff_t nx;
    ptrdiff_t first_row, last_row; /* the band, last not included */
    ptrdiff_t width;
    double cell, radius;
    const double *segments;
    ptrdiff_t n;
} Band;

static inline ptrdiff_t at_least(ptrdiff_t a, ptrdiff_t b) { return a > b ? a : b; }
static inline ptrdiff_t at_most(ptrdiff_t a, ptrdiff_t b) { return a < b ? a : b; }

typedef struct {
    ptrdiff_t i0, i1, j0, j1;
} Box;

static inline Box box_of(const Band *b, const double *s) {
    Box box;
    const double r = b->radius, inverse = 1.0 / b->cell;
    box.i0 = at_least((ptrdiff_t)ceil((fmin(s[0], s[3]) - r) * inverse), 0);
    box.i1 = at_most((ptrdiff_t)floor((fmax(s[0], s[3]) + r) * inverse) + 1, b->width);
    box.j0 = at_least((ptrdiff_t)ceil((fmin(s[1], s[4]) - r) * inverse), b->first_row);
    box.j1 = at_most((ptrdiff_t)floor((fmax(s[1], s[4]) + r) * inverse) + 1, b->last_row);
    return box;
}

/* z(s) = slope s + r - sqrt(r² - (u-s)² - w²) is convex in s: take its free minimum, then clamp. */
static void ball_segment(const Band *b, const double *s) {
    const Box box = box_of(b, s);
    if (box.i0 >= box.i1 || box.j0 >= box.j1) return;
    const float dx = (float)(s[3] - s[0]), dy = (float)(s[4] - s[1]), dz = (float)(s[5] - s[2]);
    const float length = sqrtf(dx * dx + dy * dy);
    const float tx = length > 0 ? dx / length : 1, ty = length > 0 ? dy / length : 0;
    const float slope = length > 0 ? dz / length : 0;
    const float low = (float)(length > 0 ? s[2] : fmin(s[2], s[5]));
    const float lead = slope / sqrtf(1 + slope * slope);
    const float r = (float)b->radius, rr = r * r, cell = (float)b->cell;
    const float u_step = cell * tx, w_step = -cell * ty;
    for (ptrdiff_t j = box.j0; j < box.j1; j++) {
        float *restrict row = b->height + j * b->nx;
        const float y = (float)((double)j * b->cell - s[1]);
        const float x = (float)((double)box.i0 * b->cell - s[0]);
        const float u0 = x * tx + y * ty, w0 = y * tx - x * ty;
        float *restrict h = row + box.i0;
        const int32_t count = (int32_t)(box.i1 - box.i0);
        for (int32_t k = 0; k < count; k++) {
            const float u = u0 + (float)k * u_step, w = w0 + (float)k * w_step;
            const float rest = fmaxf(rr - w * w, 0.0f);
            const float along = fminf(fmaxf(u - lead * sqrtf(rest), 0.0f), length);
            const float off = u - along;
            const float under = rr - w * w - off * off;
            const float z = low + slope * along + r - sqrtf(fmaxf(under, 0.0f));
            h[k] = under >= 0.0f ? fminf(h[k], z) : h[k];
        }
    }
}

/* Any disc by the general way, two roots per cell: where the nearest place of the path is, and how
 * far away. */
static void disc_segment(const Band *b, const double *s) {
    const Box box = box_of(b, s);
    if (box.i0 >= box.i1 || box.j0 >= box.j1) return;
    const float dx = (float)(s[3] - s[0]), dy = (float)(s[4] - s[1]), dz = (float)(s[5] - s[2]);
    const float length = sqrtf(dx * dx + dy * dy);
    const float tx = length > 0 ? dx / length : 1, ty = length > 0 ? dy / length : 0;
    const float slope = length > 0 ? dz / length : 0;
    const float low = (float)(length > 0 ? s[2] : fmin(s[2], s[5]));
    const float way = slope > 0 ? 1.0f : (slope < 0 ? -1.0f : 0.0f);
    const float r = (float)b->radius, rr = r * r, cell = (float)b->cell;
    const float u_step = cell * tx, w_step = -cell * ty;
    for (ptrdiff_t j = box.j0; j < box.j1; j++) {
        float *restrict row = b->height + j * b->nx;
        const float y = (float)((double)j * b->cell - s[1]);
        const float x = (float)((double)box.i0 * b->cell - s[0]);
        const float u0 = x * tx + y * ty, w0 = y * tx - x * ty;
        float *restrict h = row + box.i0;
        const int32_t count = (int32_t)(box.i1 - box.i0);
        for (int32_t k = 0; k < count; k++) {
            const float u = u0 + (float)k * u_step, w = w0 + (float)k * w_step;
            const float rest = fmaxf(rr - w * w, 0.0f);
            const float along = fminf(fmaxf(u - way * sqrtf(rest), 0.0f), length);
            const float off = u - along;
            const float away = sqrtf(off * off + w * w);
            const float lower = fminf(h[k], low + slope * along);
            h[k] = away <= r * 1.0000005f ? lower : h[k];
        }
    }
}

/* The same for who knows that a level pass needs no root at all, and a sloping one only one. */
static void flat_segment(const Band *b, const double *s) {
    const Box box = box_of(b, s);
    if (box.i0 >= box.i1 || box.j0 >= box.j1) return;
    const float dx = (float)(s[3] - s[0]), dy = (float)(s[4] - s[1]), dz = (float)(s[5] - s[2]);
    const float length = sqrtf(dx * dx + dy * dy);
    const float tx = length > 0 ? dx / length : 1, ty = length > 0 ? dy / length : 0;
    const float slope = length > 0 ? dz / length : 0;
    const float low = (float)(length > 0 ? s[2] : fmin(s[2], s[5]));
    const float way = slope > 0 ? 1.0f : -1.0f;
    const float rr = (float)(b->radius * b->radius), cell = (float)b->cell;
    const float u_step = cell * tx, w_step = -cell * ty;
    const int level = slope == 0;
    for (ptrdiff_t j = box.j0; j < box.j1; j++) {
        float *restrict row = b->height + j * b->nx;
        const float y = (float)((double)j * b->cell - s[1]);
        const float x = (float)((double)box.i0 * b->cell - s[0]);
        const float u0 = x * tx + y * ty, w0 = y * tx - x * ty;
        float *restrict h = row + box.i0;
        const int32_t count = (int32_t)(box.i1 - box.i0);
        if (level) {
            for (int32_t k = 0; k < count; k++) {
                const float u = u0 + (float)k * u_step, w = w0 + (float)k * w_step;
                const float off = u - fminf(fmaxf(u, 0.0f), length);
                const float lower = fminf(h[k], low);
                h[k] = off * off + w * w <= rr ? lower : h[k];
            }
        } else {
            for (int32_t k = 0; k < count; k++) {
                const float u = u0 + (float)k * u_step, w = w0 + (float)k * w_step;
                const float rest = fmaxf(rr - w * w, 0.0f);
                const float along = fminf(fmaxf(u - way * sqrtf(rest), 0.0f), length);
                const float off = u - along;
                const float lower = fminf(h[k], low + slope * along);
                /* the free minimum lies on the rim: a hair's allowance, or rounding drops it */
                h[k] = off * off + w * w <= rr * 1.000001f ? lower : h[k];
            }
        }
    }
}

static void *ball_band(void *argument) {
    const Band *b = argument;
    for (ptrdiff_t i = 0; i < b->n; i++) ball_segment(b, b->segments + 6 * i);
    return NULL;
}

static void *flat_band(void *argument) {
    const Band *b = argument;
    for (ptrdiff_t i = 0; i < b->n; i++) flat_segment(b, b->segments + 6 * i);
    return NULL;
}

static void *disc_band(void *argument) {
    const Band *b = argument;
    for (ptrdiff_t i = 0; i < b->n; i++) disc_segment(b, b->segments + 6 * i);
    return NULL;
}

/* shape 0 flat, 1 ball, 2 flat by the general way; returns 0 when every thread could be started */
int sweep(int shape, float *height, int64_t ny, int64_t nx, double cell, double radius,
          const double *segments, int64_t n, int threads) {
    void *(*work)(void *) = shape == 2 ? disc_band : (shape == 1 ? ball_band : flat_band);
    pthread_t thread[MAX_THREADS];
    Band band[MAX_THREADS];
    int failed = 0;
    if (threads < 1 || threads > MAX_THREADS) return 1;
    for (int t = 0; t < threads; t++) {
        band[t] = (Band){height, nx, ny * t / threads, ny * (t + 1) / threads,
                         nx, cell, radius, segments, n};
        if (t + 1 < threads && pthread_create(&thread[t], NULL, work, &band[t])) failed = 1;
    }
    work(&band[threads - 1]);
    for (int t = 0; t + 1 < threads && !failed; t++) pthread_join(thread[t], NULL);
    return failed;
}
