// sample_stats.c: what the cells of a region say.
//
// Mean: sum of linear light over all kept pixels. Standard error: pixels of wood are alike
// along the grain, so s / sqrt(N) is far too small (0.004 against a true 0.14 of the spread,
// simulated with correlation over 6 x 48 pixels). Means of blocks, four times as long along the
// grain, doubled in size until the error grows by less than a tenth (block means: Kuensch 1989,
// Annals of Statistics 17, 1217); with fewer than 16 blocks it has not settled, is called
// "at least" and doubled.
#include "base_internal.h"
#include "sample_internal.h"

#include <math.h>

#define BLOCKS_LEAST 16

static bool used(const hw_cell *cell)
{
    return cell->pixels > 0;
}

static hw_xyz mean_of(const hw_cell *sum)
{
    double n = sum->pixels > 0 ? (double)sum->pixels : 1.0;
    return (hw_xyz){sum->X / n, sum->Y / n, sum->Z / n};
}

void hw_cell_add(hw_cell *sum, const hw_cell *cell)
{
    sum->X += cell->X;
    sum->Y += cell->Y;
    sum->Z += cell->Z;
    sum->pixels += cell->pixels;
}

// Sum of the cells in a rectangle of the grid.
static hw_cell block_sum(const hw_sample *sample, size_t column, size_t row, size_t columns,
                         size_t rows)
{
    hw_cell sum = {0};
    for (size_t j = row; j < row + rows && j < sample->rows; j++) {
        for (size_t i = column; i < column + columns && i < sample->columns; i++) {
            hw_cell_add(&sum, &sample->cells[j * sample->columns + i]);
        }
    }
    return sum;
}

// ---- Grain -------------------------------------------------------------------------

// Neighbours differ less along the grain: the mean square step of Y, across and down.
static bool grain_runs_across(const hw_sample *sample)
{
    double step[2] = {0.0, 0.0}, count[2] = {0.0, 0.0};
    for (size_t j = 0; j < sample->rows; j++) {
        for (size_t i = 0; i < sample->columns; i++) {
            const hw_cell *cell = &sample->cells[j * sample->columns + i];
            const hw_cell *next[2] = {i + 1 < sample->columns ? cell + 1 : NULL,
                                      j + 1 < sample->rows ? cell + sample->columns : NULL};
            for (int way = 0; way < 2; way++) {
                if (next[way] && used(cell) && used(next[way])) {
                    double difference = mean_of(cell).Y - mean_of(next[way]).Y;
                    step[way] += difference * difference;
                    count[way] += 1.0;
                }
            }
        }
    }
    return step[0] * fmax(count[1], 1.0) <= step[1] * fmax(count[0], 1.0);
}

// ---- Standard error ----------------------------------------------------------------

typedef struct block_error {
    double covariance[3][3]; // of the mean X, Y, Z
    size_t blocks;
} block_error;

static block_error error_of_blocks(const hw_sample *sample, size_t columns, size_t rows)
{
    block_error result = {{{0}}, 0};
    double weight_sum = 0.0;
    for (size_t j = 0; j < sample->rows; j += rows) {
        for (size_t i = 0; i < sample->columns; i += columns) {
            hw_cell block = block_sum(sample, i, j, columns, rows);
            if (block.pixels == 0) {
                continue;
            }
            double weight = (double)block.pixels;
            hw_xyz mean = mean_of(&block);
            double off[3] = {mean.X - sample->xyz.X, mean.Y - sample->xyz.Y,
                             mean.Z - sample->xyz.Z};
            for (int r = 0; r < 3; r++) {
                for (int c = 0; c < 3; c++) {
                    result.covariance[r][c] += weight * weight * off[r] * off[c];
                }
            }
            weight_sum += weight;
            result.blocks++;
        }
    }
    double n = (double)result.blocks;
    double scale = n > 1.0 ? n / (n - 1.0) / (weight_sum * weight_sum) : 0.0;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            result.covariance[r][c] *= scale;
        }
    }
    return result;
}

static void find_standard_error(hw_sample *sample)
{
    bool across = grain_runs_across(sample);
    block_error best = {{{0}}, 0};
    bool settled = false;
    for (size_t side = 1; !settled; side *= 2) {
        block_error error =
            error_of_blocks(sample, across ? 4 * side : side, across ? side : 4 * side);
        if (error.blocks < BLOCKS_LEAST && best.blocks > 0) {
            break;
        }
        settled = best.blocks > 0 &&
                  error.covariance[1][1] < 1.1 * 1.1 * best.covariance[1][1]; // variance of Y
        if (error.covariance[1][1] > best.covariance[1][1] || best.blocks == 0) {
            best = error;
        }
        if (error.blocks < BLOCKS_LEAST) {
            break;
        }
    }
    sample->standard_error_is_floor = !settled;
    double factor = settled ? 1.0 : 4.0; // of the variance: the error doubled
    hw_covariance of_xyz;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            of_xyz.m[r][c] = factor * best.covariance[r][c];
        }
    }
    double jacobian[3][3];
    hw_lab_jacobian(sample->xyz, hw_white_d50, jacobian);
    sample->covariance = hw_covariance_map((const double(*)[3])jacobian, &of_xyz);
    for (int axis = 0; axis < 3; axis++) {
        sample->standard_error[axis] = sqrt(fmax(sample->covariance.m[axis][axis], 0.0));
    }
}

// ---- Spread ------------------------------------------------------------------------

static void find_spread(hw_sample *sample)
{
    double sum[3] = {0}, square[3] = {0}, weight_sum = 0.0;
    for (size_t i = 0; i < sample->rows * sample->columns; i++) {
        const hw_cell *cell = &sample->cells[i];
        if (!used(cell)) {
            continue;
        }
        hw_lab lab = hw_lab_from_xyz(mean_of(cell), hw_white_d50);
        double axis[3] = {lab.L, lab.a, lab.b};
        double weight = (double)cell->pixels;
        for (int k = 0; k < 3; k++) {
            sum[k] += weight * axis[k];
            square[k] += weight * axis[k] * axis[k];
        }
        weight_sum += weight;
    }
    for (int k = 0; k < 3; k++) {
        double mean = sum[k] / weight_sum;
        sample->spread[k] = sqrt(fmax(square[k] / weight_sum - mean * mean, 0.0));
    }
}

void hw_sample_summarise(hw_sample *sample)
{
    hw_cell all = block_sum(sample, 0, 0, sample->columns, sample->rows);
    sample->xyz = mean_of(&all);
    sample->lab = hw_lab_from_xyz(sample->xyz, hw_white_d50);
    find_spread(sample);
    find_standard_error(sample);
}

// ---- Pieces ------------------------------------------------------------------------

// How many cells a piece takes of a side of the grid, and where the first one starts so that
// the pieces lie about the middle.
static size_t piece_cells(double piece_px, size_t cell_px, size_t grid, size_t *first)
{
    double cells = fmax(1.0, floor(piece_px / (double)cell_px + 0.5));
    size_t size = cells < (double)grid ? (size_t)cells : grid;
    *first = grid % size / 2;
    return size;
}

size_t hw_sample_pieces(const hw_sample *sample, double width_px, double height_px, hw_xyz *out,
                        size_t room)
{
    size_t first_column, first_row, count = 0;
    if (sample->columns == 0 || sample->rows == 0) {
        return 0;
    }
    size_t columns = piece_cells(width_px, sample->cell_px, sample->columns, &first_column);
    size_t rows = piece_cells(height_px, sample->cell_px, sample->rows, &first_row);
    double full = (double)(columns * rows * sample->cell_px * sample->cell_px);
    for (size_t j = first_row; j + rows <= sample->rows; j += rows) {
        for (size_t i = first_column; i + columns <= sample->columns; i += columns) {
            hw_cell piece = block_sum(sample, i, j, columns, rows);
            if ((double)piece.pixels < 0.5 * full) {
                continue;
            }
            if (count < room) {
                out[count] = mean_of(&piece);
            }
            count++;
        }
    }
    if (count == 0) {
        if (room > 0) {
            out[0] = sample->xyz;
        }
        count = 1;
    }
    return count;
}

bool hw_sample_thirds(const hw_sample *sample, hw_xyz out[3], bool *upright)
{
    *upright = sample->rows > sample->columns;
    size_t length = *upright ? sample->rows : sample->columns;
    if (length < 6) {
        return false;
    }
    for (size_t k = 0; k < 3; k++) {
        size_t first = k * length / 3, count = (k + 1) * length / 3 - first;
        hw_cell part = *upright ? block_sum(sample, 0, first, sample->columns, count)
                                : block_sum(sample, first, 0, count, sample->rows);
        if (part.pixels < HW_MARK_MIN_PIXELS) {
            return false;
        }
        out[k] = mean_of(&part);
    }
    return true;
}
