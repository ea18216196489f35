// report_export.c: a job for other programs, as rows of named columns: one row for each part of each
// reading, one for each patch of each pass. The same rows make the CSV and the JSON; the CGATS table
// holds the colours alone.
//
//   kind       "reading" or "pass"                 event      number of the event in the log
//   at         UTC                                 photo      number of the photo's event (pass: laid before it)
//   view, lamp of the photo, as said               part, role name of the region; target or patch
//   L a b      CIELAB, D50, 2 degree               se_...     standard errors of the mean (texture alone)
//   de00 ...   patch against all its old wood, with its 90 % range
//   dL da db   patch minus old wood                verdict    leave, tone, too_dark, unsure
//   dye_1 ...  the liquid, one or two dyes         strength_1 1: as on the step board
//   passes, minutes (of drying), note              hours      of work, as entered with the pass
//   from       the photo's side, where it was said shots      photos that were kept together
#include "report_internal.h"

#include <math.h>

// ---- Cells -------------------------------------------------------------------------

typedef enum column {
    KIND = 0,
    EVENT,
    AT,
    PHOTO,
    VIEW,
    LAMP,
    PART,
    ROLE,
    L,
    A,
    B,
    SE_L,
    SE_A,
    SE_B,
    DE00,
    DE00_LOW,
    DE00_HIGH,
    D_L,
    D_A,
    D_B,
    VERDICT,
    DYE_1,
    STRENGTH_1,
    DYE_2,
    STRENGTH_2,
    PASSES,
    MINUTES,
    NOTE,
    HOURS,
    FROM,
    SHOTS,
    COLUMN_COUNT
} column;

static const char *const column_names[COLUMN_COUNT] = {
    "kind",       "event",  "at",      "photo", "view",    "lamp",  "part",       "role",
    "L",          "a",      "b",       "se_L",  "se_a",    "se_b",  "de00",       "de00_low",
    "de00_high",  "dL",     "da",      "db",    "verdict", "dye_1", "strength_1", "dye_2",
    "strength_2", "passes", "minutes", "note",  "hours",   "from",  "shots"};

// A text, or a number, or (text NULL, number NaN) nothing.
typedef struct cell {
    const char *text;
    double number;
    int decimals;
} cell;

typedef struct row {
    char time[40];
    cell cell[COLUMN_COUNT];
} row;

static void start_row(row *made, const char *kind, const hw_event *event)
{
    for (size_t i = 0; i < COLUMN_COUNT; i++) {
        made->cell[i] = (cell){NULL, (double)NAN, 0};
    }
    hw_format_time(made->time, event->at);
    made->cell[KIND].text = kind;
    made->cell[AT].text = made->time;
    made->cell[EVENT].number = (double)event->number;
}

static void put_number(row *made, column at, double value, int decimals)
{
    made->cell[at].number = value;
    made->cell[at].decimals = decimals;
}

static void put_text(row *made, column at, const char *text)
{
    made->cell[at].text = text && text[0] ? text : NULL;
}

static void put_colour(row *made, column first, double L_star, double a_star, double b_star)
{
    put_number(made, first, L_star, 3);
    put_number(made, (column)(first + 1), a_star, 3);
    put_number(made, (column)(first + 2), b_star, 3);
}

// ---- Rows --------------------------------------------------------------------------

static const hw_logged_gap *gap_of(const hw_reading_event *reading, const hw_logged_sample *sample)
{
    for (size_t i = 0; sample->role == HW_ROLE_PATCH && i < reading->gap_count; i++) {
        if (strcmp(reading->gaps[i].patch, sample->name) == 0) {
            return &reading->gaps[i];
        }
    }
    return NULL;
}

static void reading_row(const hw_job *job, const hw_event *event, size_t index, row *made)
{
    const hw_reading_event *reading = &event->of.reading;
    const hw_logged_sample *sample = &reading->samples[index];
    const hw_logged_gap *gap = gap_of(reading, sample);
    const hw_photo_event *photo = hw_job_photo_event(job, reading->photo);
    start_row(made, "reading", event);
    if (photo) {
        put_number(made, PHOTO, (double)reading->photo, 0);
        put_text(made, VIEW, photo->view);
        put_text(made, LAMP, photo->lamp);
        put_text(made, NOTE, photo->note);
        put_text(made, FROM, hw_from_name(photo->from));
        if (!photo->measured) {
            put_number(made, SHOTS, (double)(photo->more_count + 1), 0);
        }
    }
    put_text(made, PART, sample->name);
    put_text(made, ROLE, hw_role_name(sample->role));
    put_colour(made, L, sample->lab.L, sample->lab.a, sample->lab.b);
    put_colour(made, SE_L, sample->standard_error[0], sample->standard_error[1],
               sample->standard_error[2]);
    if (gap) {
        put_colour(made, DE00, gap->de00, gap->de00_low, gap->de00_high);
        put_colour(made, D_L, gap->L, gap->a, gap->b);
        put_text(made, VERDICT, hw_verdict_name(gap->verdict));
    }
}

static void pass_row(const hw_event *event, size_t index, row *made)
{
    const hw_pass_event *pass = &event->of.pass;
    start_row(made, "pass", event);
    if (pass->before_photo > 0) {
        put_number(made, PHOTO, (double)pass->before_photo, 0);
    }
    put_text(made, PART, pass->patches[index]);
    put_text(made, ROLE, hw_role_name(HW_ROLE_PATCH));
    for (size_t i = 0; i < pass->liquid.count && i < 2; i++) {
        put_text(made, i ? DYE_2 : DYE_1, pass->liquid.dose[i].dye);
        put_number(made, i ? STRENGTH_2 : STRENGTH_1, pass->liquid.dose[i].strength, -1);
    }
    put_number(made, PASSES, pass->passes, 0);
    put_number(made, MINUTES, pass->minutes, -1);
    put_text(made, NOTE, pass->note);
    if (pass->hours > 0.0) {
        put_number(made, HOURS, pass->hours, -1);
    }
}

typedef void (*put_row)(void *to, const row *made);

// Every row of that kind of event (HW_EVENT_OTHER: of both), in the order of the log.
static void each_row(const hw_job *job, hw_event_kind kind, put_row put, void *to)
{
    row made;
    for (size_t i = 0; i < hw_job_event_count(job); i++) {
        const hw_event *event = hw_job_event(job, i);
        if (kind != HW_EVENT_OTHER && event->kind != kind) {
            continue;
        }
        switch (event->kind) {
        case HW_EVENT_READING:
            for (size_t k = 0; k < event->of.reading.sample_count; k++) {
                reading_row(job, event, k, &made);
                put(to, &made);
            }
            break;
        case HW_EVENT_PASS_LAID:
            for (size_t k = 0; k < event->of.pass.patch_count; k++) {
                pass_row(event, k, &made);
                put(to, &made);
            }
            break;
        default:
            break;
        }
    }
}

// ---- CSV ---------------------------------------------------------------------------

void hw_report_csv_text(hw_text *text, const char *value)
{
    hw_text clean = {0};
    hw_report_add_clean(&clean, value);
    text->failed = text->failed || clean.failed;
    const char *from = hw_text_words(&clean);
    // Tab and CR are '?' by now, and a formula as it would have begun behind them.
    bool formula = value[0] && strchr("=+-@\t\r", value[0]);
    bool quoted = strpbrk(from, ",\"") || from[0] == ' ';
    hw_text_add(text, "%s%s", quoted ? "\"" : "", formula ? "'" : "");
    for (; *from; from++) {
        hw_text_add(text, "%s", *from == '"' ? "\"" : "");
        hw_text_add_bytes(text, from, 1);
    }
    hw_text_add(text, "%s", quoted ? "\"" : "");
    hw_text_free(&clean);
}

static void csv_number(hw_text *text, const cell *one)
{
    if (!isfinite(one->number)) {
        return;
    }
    if (one->decimals < 0) {
        hw_text_add(text, "%.10g", one->number);
    } else {
        double place = pow(10.0, one->decimals), rounded = round(one->number * place) / place;
        hw_text_add(text, "%.*f", one->decimals, rounded == 0.0 ? 0.0 : rounded); // no "-0.000"
    }
}

static void csv_row(void *to, const row *made)
{
    hw_text *text = to;
    for (size_t i = 0; i < COLUMN_COUNT; i++) {
        hw_text_add(text, "%s", i ? "," : "");
        if (made->cell[i].text) {
            hw_report_csv_text(text, made->cell[i].text);
        } else {
            csv_number(text, &made->cell[i]);
        }
    }
    hw_text_add(text, "\r\n");
}

hw_status hw_report_export_csv(const hw_job *job, char **out, hw_error *err)
{
    hw_text text = {0};
    for (size_t i = 0; i < COLUMN_COUNT; i++) {
        hw_text_add(&text, "%s%s", i ? "," : "", column_names[i]);
    }
    hw_text_add(&text, "\r\n");
    each_row(job, HW_EVENT_OTHER, csv_row, &text);
    return hw_report_finish(&text, out, err);
}

// ---- JSON --------------------------------------------------------------------------

static void json_row(void *to, const row *made)
{
    hw_json *told = hw_json_add_object(to, NULL);
    for (size_t i = 0; i < COLUMN_COUNT; i++) {
        const cell *one = &made->cell[i];
        if (one->text) {
            hw_report_json_text(told, column_names[i], one->text);
        } else if (!isfinite(one->number)) {
            hw_json_add_null(told, column_names[i]);
        } else if (one->decimals < 0) {
            hw_json_add_number(told, column_names[i], one->number);
        } else {
            hw_json_add_rounded(told, column_names[i], one->number, one->decimals);
        }
    }
}

// A copy of a logged value whose texts are clean.
static void copy_value(hw_json *parent, const char *name, const hw_json *value)
{
    double number;
    bool flag;
    if (hw_json_is_object(value) || hw_json_is_array(value)) {
        hw_json *told = hw_json_is_object(value) ? hw_json_add_object(parent, name)
                                                 : hw_json_add_array(parent, name);
        for (const hw_json *item = hw_json_first(value); item; item = hw_json_next(item)) {
            copy_value(told, hw_json_name(item), item);
        }
    } else if (hw_json_text(value)) {
        hw_report_json_text(parent, name, hw_json_text(value));
    } else if (hw_json_number(value, &number)) {
        hw_json_add_number(parent, name, number);
    } else if (hw_json_bool(value, &flag)) {
        hw_json_add_bool(parent, name, flag);
    } else {
        hw_json_add_null(parent, name);
    }
}

static hw_status add_events(hw_json *root, const hw_job_lines *lines, hw_error *err)
{
    hw_json *list = hw_json_add_array(root, "events");
    for (size_t i = 0; i < lines->count; i++) {
        const char *line = hw_job_line(lines, i);
        hw_json *event = NULL;
        hw_status status = hw_json_parse(line, strlen(line), NULL, "log", &event, err);
        if (status != HW_OK) {
            return status;
        }
        copy_value(list, NULL, event);
        hw_json_free(event);
    }
    return HW_OK;
}

hw_status hw_report_export_json(const hw_job *job, const hw_job_lines *lines, char **out,
                                hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_json *told = hw_json_add_object(root, "job");
    hw_report_json_text(told, "id", hw_job_id(job));
    hw_report_json_text(told, "title", hw_job_title(job));
    hw_report_json_text(told, "folder", hw_job_folder(job));
    hw_status status = add_events(root, lines, err);
    if (status != HW_OK) {
        hw_json_free(root);
        return status;
    }
    each_row(job, HW_EVENT_READING, json_row, hw_json_add_array(root, "readings"));
    each_row(job, HW_EVENT_PASS_LAID, json_row, hw_json_add_array(root, "passes"));
    hw_report_json_warnings(root, hw_job_warnings(job));
    return hw_report_json_finish(root, out, err);
}

// ---- CGATS -------------------------------------------------------------------------

static void start_table(hw_table *table, const hw_job *job, int64_t now)
{
    static const char *const fields[] = {"SAMPLE_ID", "SAMPLE_NAME", "EVENT", "ROLE", "LAB_L",
                                         "LAB_A",     "LAB_B",       "SE_L",  "SE_A", "SE_B"};
    static const char *const own[] = {"SAMPLE_NAME", "EVENT", "ROLE", "SE_L", "SE_A", "SE_B"};
    char created[40], title[480];
    hw_format_time(created, now);
    hw_report_clean(title, sizeof title, hw_job_title(job));
    hw_table_set_type(table, "CGATS.17");
    for (size_t i = 0; i < sizeof own / sizeof *own; i++) {
        hw_table_add_keyword(table, "KEYWORD", own[i]);
    }
    hw_table_add_keyword(table, "ORIGINATOR", "huewright");
    hw_table_add_keyword(table, "DESCRIPTOR", title);
    hw_table_add_keyword(table, "CREATED", created);
    hw_table_add_keyword(table, "INSTRUMENTATION", "photographs with a reference card");
    hw_table_add_keyword(table, "WEIGHTING_FUNCTION", "ILLUMINANT, D50; OBSERVER, 2 degree");
    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
        hw_table_add_field(table, fields[i]);
    }
}

static void table_cell(hw_table *table, const cell *one)
{
    hw_text text = {0};
    if (one->text) {
        hw_report_add_clean(&text, one->text);
    } else {
        csv_number(&text, one);
    }
    table->failed = table->failed || text.failed;
    hw_table_add_cell(table, hw_text_words(&text));
    hw_text_free(&text);
}

static void table_row(void *to, const row *made)
{
    static const column columns[] = {PART, EVENT, ROLE, L, A, B, SE_L, SE_A, SE_B};
    hw_table *table = to;
    char number[24];
    snprintf(number, sizeof number, "%zu", hw_table_rows(table) + 1);
    hw_table_add_cell(table, number);
    for (size_t i = 0; i < sizeof columns / sizeof *columns; i++) {
        table_cell(table, &made->cell[columns[i]]);
    }
    hw_table_end_row(table, 0);
}

hw_status hw_report_export_cgats(const hw_job *job, int64_t now, char **out, hw_error *err)
{
    hw_table table = {0};
    hw_status status;
    start_table(&table, job, now);
    each_row(job, HW_EVENT_READING, table_row, &table);
    if (!table.failed && hw_table_rows(&table) == 0) {
        status = hw_fail(err, HW_ERR_INPUT, "export-empty", hw_job_folder(job),
                         "Add a photo first: huewright photo JOB FILE",
                         "this job holds no reading yet, so there is no colour to export");
    } else if (hw_table_rows(&table) > HW_TABLE_ROWS_MOST) {
        status = hw_fail(err, HW_ERR_INPUT, "export-large", hw_job_folder(job),
                         "Export it as CSV instead: --csv",
                         "this job holds %zu colours, and a CGATS table at most %d",
                         hw_table_rows(&table), HW_TABLE_ROWS_MOST);
    } else {
        status = hw_cgats_write(&table, out, err);
    }
    hw_table_free(&table);
    return status;
}
