// Pixels of marks, against rules from geometry.
#include "base_internal.h"
#include "check.h"
#include "mark_internal.h"

static hw_marks one(const char *region)
{
    hw_marks marks = {0};
    check_true(hw_marks_add(&marks, HW_ROLE_PATCH, "p", region, NULL, NULL) == HW_OK);
    return marks;
}

static size_t pixels_of(const hw_mark *mark)
{
    hw_box box = hw_mark_box(mark);
    size_t count = 0;
    for (size_t y = box.y; y < box.y + box.height; y++) {
        hw_span spans[HW_SPANS_MOST];
        size_t found = hw_mark_spans(mark, y, spans, HW_SPANS_MOST);
        for (size_t i = 0; i < found; i++) {
            check_true(spans[i].x >= box.x && spans[i].x + spans[i].count <= box.x + box.width);
            count += spans[i].count;
        }
    }
    return count;
}

// A rectangle of whole pixels holds width x height of them, two that share an edge share none.
static void test_rectangles(void)
{
    hw_marks a = one("10,20,30,40"), b = one("40,20,30,40");
    check_true(pixels_of(&a.mark[0]) == 1200);
    hw_box left = hw_mark_box(&a.mark[0]), right = hw_mark_box(&b.mark[0]);
    check_true(left.x == 10 && left.y == 20 && left.width == 30 && left.height == 40);
    check_true(left.x + left.width == right.x);
    check_close(hw_mark_area(&a.mark[0]), 1200, 1e-9);
    hw_point centre = hw_mark_centre(&a.mark[0]);
    check_close(centre.x, 25, 1e-9);
    check_close(centre.y, 40, 1e-9);
    hw_marks_free(&a);
    hw_marks_free(&b);
}

// A triangle of half a square: shoelace area 1/2 x 100 x 100; its centre at a third (centroid of a
// triangle).
static void test_triangle(void)
{
    hw_marks t = one("0,0 100,0 0,100");
    check_close(hw_mark_area(&t.mark[0]), 5000, 1e-9);
    check_close((double)pixels_of(&t.mark[0]), 5000, 100.0 / 2 + 1);
    hw_point centre = hw_mark_centre(&t.mark[0]);
    check_close(centre.x, 100.0 / 3, 1e-9);
    check_close(centre.y, 100.0 / 3, 1e-9);
    hw_mark small;
    check_true(hw_mark_shrink(&t.mark[0], 0.5, &small, NULL) == HW_OK);
    check_close(hw_mark_area(&small), 1250, 1e-9);
    hw_mark_free(&small);
    hw_marks_free(&t);
}

// A circle of 100 corners, radius 60: the area of the regular polygon, n r^2 sin(2 pi / n) / 2,
// counted within its rim.
static void test_circle(void)
{
    char text[4000] = "";
    for (int i = 0; i < 100; i++) {
        char corner[40];
        snprintf(corner, sizeof corner, "%.6f,%.6f ", 100 + 60 * cos(0.0628318530718 * i),
                 100 + 60 * sin(0.0628318530718 * i));
        memcpy(text + strlen(text), corner, strlen(corner) + 1);
    }
    hw_marks c = one(text);
    double area = 100 * 60.0 * 60.0 * sin(0.0628318530718) / 2;
    check_close(hw_mark_area(&c.mark[0]), area, 1e-3);
    check_close((double)pixels_of(&c.mark[0]), area, 30.0);
    hw_marks_free(&c);
}

// A U: two spans in a row (even-odd rule).
static void test_concave(void)
{
    hw_marks u = one("0,0 30,0 30,90 60,90 60,0 90,0 90,120 0,120");
    hw_span spans[HW_SPANS_MOST];
    check_true(hw_mark_spans(&u.mark[0], 10, spans, HW_SPANS_MOST) == 2);
    check_true(spans[0].x == 0 && spans[0].count == 30 && spans[1].x == 60 && spans[1].count == 30);
    check_true(hw_mark_spans(&u.mark[0], 100, spans, HW_SPANS_MOST) == 1 && spans[0].count == 90);
    check_true(hw_mark_spans(&u.mark[0], 130, spans, HW_SPANS_MOST) == 0);
    hw_marks_free(&u);
}

static void refused(hw_marks *marks, const char *code, hw_status status)
{
    hw_error err = {0};
    check_true(hw_marks_check(marks, 400, 300, NULL, &err) == status);
    check_text(err.code, code);
    check_true(err.next[0] != 0);
    hw_marks_free(marks);
}

static hw_marks with_card(void)
{
    hw_marks marks = {0};
    check_true(hw_marks_add(&marks, HW_ROLE_CARD, "card", "300,200,60,60", NULL, NULL) == HW_OK);
    return marks;
}

static void add(hw_marks *marks, hw_role role, const char *name, const char *region)
{
    check_true(hw_marks_add(marks, role, name, region, NULL, NULL) == HW_OK);
}

static void test_check(void)
{
    hw_marks m = with_card();
    add(&m, HW_ROLE_TARGET, "old", "10,10,100,100");
    add(&m, HW_ROLE_PATCH, "new", "110,10,100,100"); // shares an edge with old: fine
    check_true(hw_marks_check(&m, 400, 300, NULL, NULL) == HW_OK);
    hw_marks_free(&m);

    m = with_card();
    add(&m, HW_ROLE_TARGET, "old", "350,10,100,100");
    refused(&m, "mark-outside", HW_ERR_CALL);
    m = with_card();
    add(&m, HW_ROLE_TARGET, "old", "1e12,10,100,100");
    refused(&m, "mark-outside", HW_ERR_CALL);
    m = with_card();
    add(&m, HW_ROLE_TARGET, "old", "10,10,19,19");
    refused(&m, "mark-small", HW_ERR_CALL);
    m = with_card();
    add(&m, HW_ROLE_TARGET, "old", "10,10 100,100 100,10 10,100");
    refused(&m, "mark-crossing", HW_ERR_CALL);
    m = with_card();
    add(&m, HW_ROLE_TARGET, "old", "10,10,100,100");
    add(&m, HW_ROLE_TARGET, "old", "150,10,100,100");
    refused(&m, "mark-twice", HW_ERR_CALL);
    m = with_card();
    add(&m, HW_ROLE_CARD, "card", "10,10,100,100");
    refused(&m, "mark-twice", HW_ERR_CALL);
    m = with_card(); // the card again in a second place, and a small step: both fine
    add(&m, HW_ROLE_CARD, "card 2", "10,10,100,100");
    add(&m, HW_ROLE_NEUTRAL, "black", "200,10,12,12");
    check_true(hw_marks_check(&m, 400, 300, NULL, NULL) == HW_OK);
    hw_marks_free(&m);
    m = with_card();
    add(&m, HW_ROLE_TARGET, "old", "250,150,100,100");
    refused(&m, "mark-overlap", HW_ERR_CALL);
    m = with_card();
    add(&m, HW_ROLE_TARGET, "old", "10,10,100,100");
    add(&m, HW_ROLE_PATCH, "new", "100,100,100,100");
    refused(&m, "mark-overlap", HW_ERR_CALL);
    m = (hw_marks){0};
    add(&m, HW_ROLE_TARGET, "old", "10,10,100,100");
    refused(&m, "card-missing", HW_ERR_INPUT);
    hw_error err = {0};
    hw_warnings warnings = {0};
    const char *text =
        "{\"marks\":[{\"role\":\"card\",\"polygon\":[[300,200],[360,200],[360,260],[300,260]]},"
        "{\"role\":\"patch\",\"name\":\"p\",\"beside\":[\"nowhere\"],"
        "\"polygon\":[[10,10],[60,10],[60,60],[10,60]]}]}";
    check_true(hw_marks_parse(text, strlen(text), "m", NULL, &m, &warnings, &err) == HW_OK);
    refused(&m, "mark-beside", HW_ERR_CALL);
    m = with_card();
    for (int i = 0; i < 64; i++) {
        add(&m, HW_ROLE_FIELD, "f", "10,10,100,100");
    }
    refused(&m, "mark-many", HW_ERR_CALL);
}

int main(void)
{
    test_rectangles();
    test_triangle();
    test_circle();
    test_concave();
    test_check();
    return check_done();
}
