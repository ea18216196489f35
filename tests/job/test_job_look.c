// What a photo is recognised by, kept beside it: there again for that photo of that view, and for no other; and nobody
// is the worse where it is missing.
#include "open_job.h"

static const char *const one = "photos/1.jpg", *const two = "photos/2.jpg";

static bool holds(const char *view, const char *stored, const char *text)
{
    uint8_t *bytes = NULL;
    size_t count = 0;
    bool there = hw_job_look(job, view, stored, &bytes, &count);
    bool same = there && count == strlen(text) && memcmp(bytes, text, count) == 0;
    hw_job_photo_free(there ? bytes : NULL);
    return same;
}

int main(void)
{
    new_job("look");
    check_true(!holds("front", one, ""));
    hw_job_keep_look(job, "front", one, "a\nb", 3);
    hw_job_keep_look(job, "../etc/passwd", two, "side",
                     4); // the name of a view is no name of a file
    check_true(holds("front", one, "a\nb"));
    check_true(holds("../etc/passwd", two, "side"));
    check_true(!holds("front", two, "a\nb") && !holds("front", "photos/1.jp", "g\na\nb"));
    hw_job_keep_look(job, "front", two, "", 0); // the next photo takes its place
    check_true(holds("front", two, "") && !holds("front", one, "a\nb"));
    hw_job_checked checked = {0};
    check_true(hw_job_check(folder, NULL, &checked, NULL) == HW_OK);
    check_true(checked.all_there && checked.findings.count == 0);
    hw_job_checked_free(&checked);
    hw_job_free(job);
    return check_done();
}
