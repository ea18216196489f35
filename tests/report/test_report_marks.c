// A photo with its marks as SVG: every mark there with its name and corners, no name that could do anything, and the photo
// inside. tests/cli reads such a file with Python's XML parser.
#include "shop.h"
#include "huewright/report.h"

int main(void)
{
    picture made = shop_picture();
    hw_photo *photo = shop_photo(&made);
    hw_marks marks = shop_marks();
    char *svg = NULL;
    picture_free(&made);
    check_true(hw_marks_add(&marks, HW_ROLE_TARGET, "<script>alert(1)</script> & \"x\"",
                            "250,10 260,10 255,30", NULL, NULL) == HW_OK);
    check_true(hw_marks_add(&marks, HW_ROLE_TARGET, "a & \"b\"", "200,200 230,200 215,230", NULL,
                            NULL) == HW_OK);
    check_true(hw_report_marks_svg(photo, &marks, &svg, NULL) == HW_OK);
    // 400 x 240 photo pixels are 346 x 207.6 units; the picture begins below a line of words, at 28.8, and 7 units of grey.
    check_holds(svg, "viewBox=\"0 0 360 ");
    check_holds(svg, "<image x=\"7.0\" y=\"35.8\" width=\"346.0\" height=\"207.6\"");
    check_holds(
        svg, "stroke-dasharray=\"7 4\" points=\"240.6,53.1 327.1,53.1 327.1,226.1 240.6,226.1\"/>");
    check_holds(svg, "stroke-dasharray=\"1.5 2.5\" points=\"24.3,53.1 ");
    check_holds(svg, "<text x=\"58.9\"");
    check_holds(svg, ">card</text>");
    check_holds(svg, ">&lt;script&gt;alert(1)&lt;"); // cut at half of the picture's width
    check_holds(svg, "\xe2\x80\xa6</text>");
    check_holds(svg, ">a &amp; &quot;b&quot;</text>");
    check_true(strstr(svg, "<script") == NULL);
    check_holds(svg, "data:image/jpeg;base64,/9j/"); // FF D8 FF, the start of a JPEG file
    check_true(strstr(svg, "http") ==
               strstr(svg, "http://www.w3.org/2000/svg")); // names, no requests
    hw_report_free(svg);
    hw_marks_free(&marks);
    hw_photo_free(photo);
    return check_done();
}
