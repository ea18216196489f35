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
    check_true(hw_report_marks_svg(photo, &marks, &svg, NULL) == HW_OK);
    check_holds(svg, "viewBox=\"0 0 400 240\"");
    check_holds(
        svg, "<polygon class=\"patch\" points=\"270.0,20.0 370.0,20.0 370.0,220.0 270.0,220.0\"/>");
    check_holds(svg, "<polygon class=\"reference\" points=\"20.0,20.0 ");
    check_holds(svg, "<text x=\"60.0\" y=\"60.0\">card</text>");
    check_holds(svg, "&lt;script&gt;alert(1)&lt;/script&gt; &amp;");
    check_true(strstr(svg, "<script") == NULL);
    check_holds(svg, "data:image/jpeg;base64,/9j/"); // FF D8 FF, the start of a JPEG file
    check_true(strstr(svg, "http") ==
               strstr(svg, "http://www.w3.org/2000/svg")); // names, no requests
    hw_report_free(svg);
    hw_marks_free(&marks);
    hw_photo_free(photo);
    return check_done();
}
