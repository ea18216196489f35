// mark_find_chart.c: 24 even areas in a lattice of six by four, in the colours of the chart.
//
// From each area two neighbours of its size set out a lattice, which grows as long as an area lies where the
// last step says. A projective map through the centres (least squares) then gives all 24 places, also of patches
// that were not found. The chart lies either way round in it: the way is right whose order of lightness is the
// chart's (Spearman), and whose colours go with the chart's too.
#include "base_internal.h"
#include "mark_internal.h"

#include <math.h>

enum { COLUMNS = 6, ROWS = 4, PATCHES = COLUMNS * ROWS, REACH = 6, WIDE = 2 * REACH + 1 };
enum { CELLS_MOST = 1500 };
static const double cell_share_most = 0.02; // of the picture: a patch (chosen)
static const double size_ratio_most = 2.6;  // of areas of neighbours
static const double away_most = 0.30;       // of a step, from where a neighbour should be
static const int found_least = 16;          // of the 24 (chosen)
static const double misfit_most = 0.14;     // of a cell, root mean square of the map
static const double order_least = 0.90, colours_least = 0.75;

// R, G, B codes of the patches, row by row, as published for sRGB. Only their order and rough colour are asked.
static const uint8_t patch_code[PATCHES][3] = {
    {115, 82, 68},   {194, 150, 130}, {98, 122, 157}, {87, 108, 67},   {133, 128, 177},
    {103, 189, 170}, {214, 126, 44},  {80, 91, 166},  {193, 90, 99},   {94, 60, 108},
    {157, 188, 64},  {224, 163, 46},  {56, 61, 150},  {70, 148, 73},   {175, 54, 60},
    {231, 199, 31},  {187, 86, 149},  {8, 133, 161},  {243, 243, 242}, {200, 200, 200},
    {160, 160, 160}, {122, 122, 121}, {85, 85, 85},   {52, 52, 52}};

// ---- The lattice -----------------------------------------------------------------------

typedef struct cells {
    const hw_flat *at[CELLS_MOST];
    size_t count;
} cells;

typedef struct grid {
    int cell[WIDE][WIDE]; // by row and column about the first one; -1: none
    int count;
} grid;

static hw_point minus(hw_point a, hw_point b)
{
    return (hw_point){a.x - b.x, a.y - b.y};
}

static bool is_of_size(const hw_flat *a, const hw_flat *b)
{
    double ratio = a->pixels / b->pixels;
    return ratio < size_ratio_most && ratio > 1.0 / size_ratio_most;
}

static void gather(const hw_relief *relief, const hw_flats *flats, int level, cells *out)
{
    double most = cell_share_most * (double)(relief->width * relief->height);
    out->count = 0;
    for (size_t i = 0; i < flats->count && out->count < CELLS_MOST; i++) {
        const hw_flat *f = &flats->flat[i];
        bool square = f->pixels < 150.0 || hw_is_tilted_rectangle(f->corner, 2.6);
        if (f->level == level && f->pixels < most && f->fill > 0.55 && square && !f->at_edge) {
            out->at[out->count++] = f;
        }
    }
}

// The cell of the right size that is nearest to p, within `room`; -1: none.
static int cell_near(const cells *c, hw_point p, double room, const hw_flat *like)
{
    int best = -1;
    for (size_t i = 0; i < c->count; i++) {
        hw_point d = minus(c->at[i]->centre, p);
        double away = hypot(d.x, d.y);
        if (away < room && is_of_size(c->at[i], like)) {
            best = (int)i;
            room = away;
        }
    }
    return best;
}

// The step from (row, column) in a direction: as the last one into it was, else as at the start.
static hw_point step_at(const cells *c, const grid *g, int row, int column, int dr, int dc,
                        const hw_point basis[2])
{
    int br = row - dr, bc = column - dc;
    if (br >= 0 && bc >= 0 && br < WIDE && bc < WIDE && g->cell[br][bc] >= 0) {
        return minus(c->at[g->cell[row][column]]->centre, c->at[g->cell[br][bc]]->centre);
    }
    return (hw_point){dc * basis[0].x + dr * basis[1].x, dc * basis[0].y + dr * basis[1].y};
}

static void grow_from(const cells *c, const hw_point basis[2], grid *g, int row, int column)
{
    static const int way[4][2] = {{0, 1}, {1, 0}, {0, -1}, {-1, 0}};
    for (int k = 0; k < 4; k++) {
        int r = row + way[k][0], q = column + way[k][1];
        if (r < 0 || q < 0 || r >= WIDE || q >= WIDE || g->cell[r][q] >= 0) {
            continue;
        }
        const hw_flat *here = c->at[g->cell[row][column]];
        hw_point step = step_at(c, g, row, column, way[k][0], way[k][1], basis);
        hw_point to = {here->centre.x + step.x, here->centre.y + step.y};
        int next = cell_near(c, to, away_most * hypot(step.x, step.y), here);
        if (next >= 0) {
            g->cell[r][q] = next;
            g->count++;
            grow_from(c, basis, g, r, q); // at most WIDE x WIDE deep
        }
    }
}

static void grow(const cells *c, size_t start, const hw_point basis[2], grid *g)
{
    for (int i = 0; i < WIDE * WIDE; i++) {
        g->cell[i / WIDE][i % WIDE] = -1;
    }
    g->cell[REACH][REACH] = (int)start;
    g->count = 1;
    grow_from(c, basis, g, REACH, REACH);
}

// Two neighbours of a cell, about square to each other, the second clockwise of the first.
static bool basis_of(const cells *c, size_t start, hw_point basis[2])
{
    const hw_flat *here = c->at[start];
    double size = sqrt(here->pixels), least[2] = {3.0 * size + 14.0, 3.0 * size + 14.0};
    bool found[2] = {false, false};
    for (int turn = 0; turn < 2; turn++) {
        for (size_t i = 0; i < c->count; i++) {
            hw_point d = minus(c->at[i]->centre, here->centre);
            double away = hypot(d.x, d.y);
            if (i == start || away >= least[turn] || away < size || !is_of_size(c->at[i], here)) {
                continue;
            }
            double across = turn ? basis[0].x * d.y - basis[0].y * d.x : 1.0;
            if (turn && fabs(across) < 0.75 * away * hypot(basis[0].x, basis[0].y)) {
                continue;
            }
            basis[turn] = across < 0.0 ? (hw_point){-d.x, -d.y} : d;
            least[turn] = away;
            found[turn] = true;
        }
    }
    return found[0] && found[1];
}

// ---- The map -----------------------------------------------------------------------------

typedef struct projection {
    double h[8]; // x = (h0 u + h1 v + h2) / (h6 u + h7 v + 1), y with h3, h4, h5
} projection;

static hw_point seen_at(const projection *p, double u, double v)
{
    double w = p->h[6] * u + p->h[7] * v + 1.0;
    return (hw_point){(p->h[0] * u + p->h[1] * v + p->h[2]) / w,
                      (p->h[3] * u + p->h[4] * v + p->h[5]) / w};
}

// Gauss with the largest pivot; false where the places do not fix the map.
static bool solve(double m[8][9], double out[8])
{
    for (int k = 0; k < 8; k++) {
        int best = k;
        for (int i = k + 1; i < 8; i++) {
            best = fabs(m[i][k]) > fabs(m[best][k]) ? i : best;
        }
        if (fabs(m[best][k]) < 1e-9) {
            return false;
        }
        for (int j = 0; j < 9; j++) {
            double kept = m[k][j];
            m[k][j] = m[best][j];
            m[best][j] = kept;
        }
        for (int i = 0; i < 8; i++) {
            double factor = i == k ? 0.0 : m[i][k] / m[k][k];
            for (int j = k; j < 9; j++) {
                m[i][j] -= factor * m[k][j];
            }
        }
    }
    for (int k = 0; k < 8; k++) {
        out[k] = m[k][8] / m[k][k];
    }
    return true;
}

// Least squares of the linear form (R. Hartley and A. Zisserman 2004, 4.1), the places counted from
// their middle so that its sums stay of one size.
typedef struct tie {
    double u, v;
    hw_point at;
} tie;

static bool map_through(const tie *ties, int count, double scale, projection *out)
{
    double m[8][9] = {{0}};
    hw_point middle = ties[0].at;
    for (int i = 0; i < 2 * count; i++) {
        const tie *t = &ties[i / 2];
        double x = (t->at.x - middle.x) / scale, y = (t->at.y - middle.y) / scale;
        double to = i % 2 ? y : x;
        double row[8] = {0, 0, 0, 0, 0, 0, -t->u * to, -t->v * to};
        double *own = row + (i % 2 ? 3 : 0);
        own[0] = t->u;
        own[1] = t->v;
        own[2] = 1.0;
        for (int a = 0; a < 8; a++) {
            for (int b = 0; b < 8; b++) {
                m[a][b] += row[a] * row[b];
            }
            m[a][8] += row[a] * to;
        }
    }
    if (!solve(m, out->h)) {
        return false;
    }
    for (int k = 0; k < 3; k++) { // back to pixels
        out->h[k] = scale * out->h[k] + middle.x * (k < 2 ? out->h[6 + k] : 1.0);
        out->h[3 + k] = scale * out->h[3 + k] + middle.y * (k < 2 ? out->h[6 + k] : 1.0);
    }
    return true;
}

// ---- Is it the chart? ----------------------------------------------------------------------

typedef struct colours {
    double light[PATCHES], red[PATCHES], blue[PATCHES]; // ln Y, ln(R/G), ln(B/G)
} colours;

static void set_patch(colours *c, int i, const double rgb[3])
{
    double r = fmax(rgb[0], 0.01), g = fmax(rgb[1], 0.01), b = fmax(rgb[2], 0.01);
    c->light[i] = log(0.2126 * r + 0.7152 * g + 0.0722 * b); // Y of sRGB, IEC 61966-2-1
    c->red[i] = log(r / g);
    c->blue[i] = log(b / g);
}

static void published(colours *out)
{
    for (int i = 0; i < PATCHES; i++) {
        double rgb[3];
        for (int k = 0; k < 3; k++) {
            rgb[k] = hw_srgb_linear(patch_code[i][k] / 255.0);
        }
        set_patch(out, i, rgb);
    }
}

static bool seen_colours(const hw_relief *relief, const projection *p, bool turned, colours *out)
{
    for (int i = 0; i < PATCHES; i++) {
        int at = turned ? PATCHES - 1 - i : i;
        hw_point s = seen_at(p, at % COLUMNS + 0.5, at / COLUMNS + 0.5);
        if (!(s.x >= 1.0 && s.y >= 1.0 && s.x < (double)relief->width - 1.0 &&
              s.y < (double)relief->height - 1.0)) {
            return false;
        }
        double sum[3] = {0};
        for (int k = 0; k < 9; k++) { // nine pixels about the middle
            size_t x = (size_t)s.x + (size_t)(k % 3) - 1, y = (size_t)s.y + (size_t)(k / 3) - 1;
            for (size_t c = 0; c < 3; c++) {
                sum[c] += (double)relief->small->xyz[3 * (y * relief->width + x) + c] / 9.0;
            }
        }
        double rgb[3];
        hw_linear_srgb_from_xyz((hw_xyz){sum[0], sum[1], sum[2]}, rgb);
        set_patch(out, i, rgb);
    }
    return true;
}

static double correlation_of(const double *a, const double *b)
{
    double n = PATCHES, sa = 0, sb = 0, aa = 0, bb = 0, ab = 0;
    for (int i = 0; i < PATCHES; i++) {
        sa += a[i];
        sb += b[i];
        aa += a[i] * a[i];
        bb += b[i] * b[i];
        ab += a[i] * b[i];
    }
    double scale = sqrt(fmax(aa - sa * sa / n, 0.0) * fmax(bb - sb * sb / n, 0.0));
    return scale > 0.0 ? (ab - sa * sb / n) / scale : 0.0;
}

static void ranks_of(const double *values, double *ranks)
{
    for (int i = 0; i < PATCHES; i++) {
        ranks[i] = 0.0;
        for (int k = 0; k < PATCHES; k++) {
            ranks[i] += values[k] < values[i] ? 1.0 : values[k] == values[i] ? 0.5 : 0.0;
        }
    }
}

static void judge(const hw_relief *relief, const projection *p, bool turned, hw_chart_find *out)
{
    colours seen, known;
    double seen_ranks[PATCHES], known_ranks[PATCHES];
    if (!seen_colours(relief, p, turned, &seen)) {
        return;
    }
    published(&known);
    ranks_of(seen.light, seen_ranks);
    ranks_of(known.light, known_ranks);
    double order = correlation_of(seen_ranks, known_ranks);
    double hues = fmin(correlation_of(seen.red, known.red), correlation_of(seen.blue, known.blue));
    if (order < order_least || hues < colours_least || order + hues < out->order + out->colours) {
        return;
    }
    const double at[4][2] = {{0, 0}, {COLUMNS, 0}, {COLUMNS, ROWS}, {0, ROWS}};
    *out = (hw_chart_find){.found = true, .order = order, .colours = hues};
    for (int i = 0; i < 4; i++) {
        out->corner[(i + (turned ? 2 : 0)) % 4] = seen_at(p, at[i][0], at[i][1]);
    }
}

// The lattice's cells in the window of six by four that begins at (row, column), or of four by six.
static int ties_in(const cells *c, const grid *g, int row, int column, bool upright, tie *ties)
{
    int count = 0, rows = upright ? COLUMNS : ROWS, columns = upright ? ROWS : COLUMNS;
    for (int i = 0; i < rows * columns; i++) {
        int r = i / columns, q = i % columns, cell = g->cell[row + r][column + q];
        if (cell >= 0) { // a chart that stands on its end is read down its columns from the right
            double u = upright ? r + 0.5 : q + 0.5, v = upright ? ROWS - 0.5 - q : r + 0.5;
            ties[count++] = (tie){u, v, c->at[cell]->centre};
        }
    }
    return count;
}

static void try_window(const hw_relief *relief, const tie *ties, int count, hw_chart_find *out)
{
    projection p;
    double size = 0.0, sum = 0.0;
    for (int i = 1; i < count; i++) {
        size = fmax(size, hypot(ties[i].at.x - ties[0].at.x, ties[i].at.y - ties[0].at.y));
    }
    if (size <= 0.0 || !map_through(ties, count, size, &p)) {
        return;
    }
    hw_point middle = seen_at(&p, 3.0, 2.0), next = seen_at(&p, 4.0, 2.0);
    double cell = hypot(next.x - middle.x, next.y - middle.y);
    for (int i = 0; i < count; i++) {
        hw_point d = minus(seen_at(&p, ties[i].u, ties[i].v), ties[i].at);
        sum += d.x * d.x + d.y * d.y;
    }
    if (sqrt(sum / count) < misfit_most * cell) {
        hw_chart_find one = {0};
        judge(relief, &p, false, &one);
        judge(relief, &p, true, &one);
        if (one.found && one.order + one.colours + 0.02 * count >
                             out->order + out->colours + 0.02 * out->patches) {
            one.patches = count;
            *out = one;
        }
    }
}

static void try_grid(const hw_relief *relief, const cells *c, const grid *g, hw_chart_find *out)
{
    for (int upright = 0; upright < 2; upright++) {
        int rows = upright ? COLUMNS : ROWS, columns = upright ? ROWS : COLUMNS;
        for (int row = 0; row + rows <= WIDE; row++) {
            for (int column = 0; column + columns <= WIDE; column++) {
                tie ties[PATCHES];
                int count = ties_in(c, g, row, column, upright != 0, ties);
                if (count >= found_least) {
                    try_window(relief, ties, count, out);
                }
            }
        }
    }
}

hw_status hw_chart_find_in(const hw_relief *relief, const hw_flats *flats, hw_chart_find *out,
                           hw_error *err)
{
    *out = (hw_chart_find){0};
    cells *c = hw_alloc_array(1, sizeof *c);
    bool *seen = hw_alloc_array(CELLS_MOST, sizeof *seen);
    if (!c || !seen) {
        hw_free(c);
        hw_free(seen);
        return hw_fail_memory(err, "looking for a colour chart");
    }
    for (int level = 0; level < HW_FIND_LEVELS; level++) {
        gather(relief, flats, level, c);
        memset(seen, 0, CELLS_MOST * sizeof *seen);
        for (size_t start = 0; start < c->count && c->count >= (size_t)found_least; start++) {
            hw_point basis[2];
            grid g;
            if (seen[start] || !basis_of(c, start, basis)) {
                continue;
            }
            grow(c, start, basis, &g);
            if (g.count >= found_least) {
                try_grid(relief, c, &g, out);
                for (int i = 0; i < WIDE * WIDE; i++) { // one try a lattice is enough
                    int cell = g.cell[i / WIDE][i % WIDE];
                    seen[cell >= 0 ? (size_t)cell : start] = true;
                }
            }
        }
    }
    hw_free(c);
    hw_free(seen);
    return HW_OK;
}
