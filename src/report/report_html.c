// report_html.c: the report of a job as one HTML file for one reader: the frame and the look. What stands in it:
// report_html_customer.c, report_html_shop.c with report_html_part.c, report_html_slip.c, and what they share in report_html_shared.c.
//
// The file asks for nothing outside it and runs nothing: no script, no link out, style inside, pictures as data. A Content
// Security Policy (W3C, level 3) says so to the browser too, so that even a text that slipped through could do nothing.
// Black on white; what tells things apart is words, lines and place, never colour. Made for a phone first, and for paper.
#include "report_html.h"

#include <string.h>

// ---- Readers -----------------------------------------------------------------------

static const char *const reader_names[HW_READER_COUNT] = {"customer", "shop", "spray-room"};

const char *hw_reader_name(hw_reader reader)
{
    return (unsigned)reader < HW_READER_COUNT ? reader_names[reader] : "";
}

bool hw_reader_from_name(const char *name, hw_reader *out)
{
    for (int i = 0; i < HW_READER_COUNT; i++) {
        if (strcmp(name, reader_names[i]) == 0) {
            *out = (hw_reader)i;
            return true;
        }
    }
    return false;
}

// ---- The account -------------------------------------------------------------------

void hw_before_after_free(hw_before_after *both)
{
    hw_shown_free(&both->before);
    hw_shown_free(&both->after);
    hw_marks_free(&both->first_marks);
    hw_marks_free(&both->last_marks);
    *both = (hw_before_after){0};
}

static void free_part(hw_account_part *part)
{
    hw_shown_free(&part->strip);
    hw_looks_free(&part->looks);
}

void hw_account_free(hw_account *account)
{
    if (!account) {
        return;
    }
    for (size_t i = 0; i < account->view_count; i++) {
        hw_before_after_free(&account->view[i]);
    }
    for (size_t i = 0; i < account->part_count; i++) {
        free_part(&account->part[i]);
    }
    hw_free(account->view);
    hw_free(account->part);
    hw_day_free(&account->day);
    hw_known_free(&account->known);
    hw_job_free(account->job);
    *account = (hw_account){0};
}

const hw_account_part *hw_account_find(const hw_account *account, const char *name)
{
    for (size_t i = 0; i < account->part_count; i++) {
        if (strcmp(account->part[i].name, name) == 0) {
            return &account->part[i];
        }
    }
    return NULL;
}

// ---- The look ----------------------------------------------------------------------

// Margins of 12 mm leave what every printer can print; a figure or a row is not cut in two.
static const char style[] =
    "*{box-sizing:border-box}"
    "html{background:#fff;color:#111;font:1rem/1.5 system-ui,\"Segoe UI\",\"DejaVu "
    "Sans\",sans-serif;"
    "-webkit-text-size-adjust:100%}"
    "body{margin:0 auto;padding:1rem;max-width:46rem;overflow-wrap:anywhere}"
    "h4{margin:1.2em 0 .3em}h1,h2,h3{font-family:Georgia,\"DejaVu "
    "Serif\",serif;line-height:1.25;margin:0 0 .4em}"
    "h1{font-size:1.8rem}h2{font-size:1.35rem}h3{font-size:1.12rem}"
    "header{border-bottom:4px double #111;margin-bottom:1.5rem;padding-bottom:.6rem}"
    "header p,p,ul,ol,dl,figure,table{margin:0 0 .8em}"
    ".over{font-size:.9rem;letter-spacing:.04em;margin-bottom:.2em}"
    "section{margin:0 0 2rem}h2{border-bottom:1px solid #111;padding-bottom:.15em}"
    "article{border-left:3px solid #111;padding-left:.9rem;margin:0 0 1.5rem}"
    "figure,dl{break-inside:avoid}"
    "img{display:block;max-width:min(100%,32rem);height:auto;margin:0 auto;border:1px solid #777}"
    "figcaption{font-size:.9rem;margin-top:.3em}"
    "ul,ol{padding-left:1.3rem}ul.lines{padding-left:1.1rem}ul.lines ul.lines{margin:0}"
    "nav ul ul{margin:0}dt{font-weight:700}dd{margin:0 0 .5em}"
    "table{border-collapse:collapse;width:calc(100% - "
    "1px);overflow-wrap:break-word}"
    "caption{text-align:left;font-weight:700;padding:.2em 0}"
    "th,td{border:1px solid #777;padding:.3em .5em;text-align:left;vertical-align:top}"
    "thead th{border-bottom:2px solid #111}"
    "tr{break-inside:avoid}h1,h2,h3,h4,caption{break-after:avoid}"
    ".say{font-weight:700}"
    ".sign{display:grid;grid-template-columns:1fr;gap:1.6rem;margin-top:1.2rem;break-inside:avoid}"
    ".sign div{border-bottom:1px solid #111;min-height:2.6rem;padding-top:1.4rem}"
    "@media(min-width:36rem){.sign{grid-template-columns:1fr 1fr}}"
    "footer{border-top:1px solid #111;padding-top:.5rem;font-size:.85rem}"
    "a{color:#111}:focus-visible{outline:3px solid #111;outline-offset:2px}"
    "@media print,(min-width:40rem){article "
    "figure{display:inline-block;width:49%;vertical-align:top}}"
    "@page{margin:12mm}"
    "@media print{html{font-size:10.5pt}body{max-width:none;padding:0}section{margin-bottom:1.2rem}"
    "nav{display:none}"
    "img{max-height:125mm;width:auto}.tall img{max-height:235mm}figure{margin-bottom:.5em}}";

// The slip: large, and short enough for one page.
static const char slip_style[] =
    "body{font-size:1.15rem;line-height:1.35}"
    ".out{border:3px solid #111;font-weight:700;font-size:1.2rem;padding:.3em .5em;"
    "text-align:center}"
    "ul.plain{list-style:none;padding:0}ol{list-style-position:inside;padding:0}"
    "ul.plain ul.lines{list-style:none;padding-left:1.3rem}"
    "ol>li,ul.plain>li{margin:0 0 .6em;break-inside:avoid}"
    ".what{font-weight:700;font-size:1.25em}"
    ".box{display:inline-block;width:.9em;height:.9em;border:2px solid #111;"
    "vertical-align:-.1em;margin-right:.35em}"
    ".tick,.guess{display:inline-block;margin-right:.8em;white-space:nowrap}"
    ".guess{border:2px dashed #111;padding:0 .3em;font-weight:700}"
    ".cautions{font-size:.8em}.cautions ul{margin:0}"
    "@page{margin:8mm}"
    "@media print{html{font-size:8.2pt}section,header,article{margin-bottom:.4em}"
    "p,ul,ol,header p{margin-bottom:.25em}header{padding-bottom:.1em}"
    "h1{font-size:1.3em;margin:0}h2{font-size:1.1em;margin-bottom:.2em}"
    ".out{font-size:1.1em;padding:.2em}ol>li,ul.plain>li{margin-bottom:.3em}"
    ".cautions{font-size:.76em;line-height:1.25}footer{font-size:.75em;padding-top:.1em}"
    "footer p{margin-bottom:.2em}footer .out{font-size:1.4em}"
    // More than A5 or half a Letter sheet: larger. By the width of what is printed, which pages of a
    // set size do not tell to media queries.
    "body{container-type:inline-size}"
    "@container(min-width:165mm){aside,header,main,footer{font-size:1.3em}footer{font-size:1em}"
    ".many aside,.many header,.many main{font-size:1.12em}}}";

static const char *const reader_titles[HW_READER_COUNT] = {
    "Report on the colour repair of", "Shop report on the colour repair of", "Spray room slip for"};

// Repairs that something is to be laid on.
static size_t to_lay(const hw_account *account)
{
    size_t count = 0;
    for (size_t i = 0; account->has_day && i < account->day.count; i++) {
        count += account->day.advice[i].has_next;
    }
    return count;
}

static void add_head(hw_page *page, hw_reader reader)
{
    hw_page_add(page,
                "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                "style-src 'unsafe-inline'; img-src data:\">\n"
                "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
                "<meta name=\"generator\" content=\"huewright %s\">\n<title>%s ",
                hw_version(), reader_titles[reader]);
    hw_page_title(page);
    hw_page_add(page, "</title>\n<style>%s%s</style>\n</head>\n<body>\n<div%s>\n", style,
                reader == HW_FOR_SPRAY_ROOM ? slip_style : "",
                reader == HW_FOR_SPRAY_ROOM && to_lay(page->account) > 3 ? " class=\"many\"" : "");
}

static void add_header(hw_page *page, hw_reader reader)
{
    hw_page_add(page, "<header>\n<p class=\"over\">%s</p>\n<h1><bdi>", reader_titles[reader]);
    hw_page_title(page);
    hw_page_add(page, "</bdi></h1>\n");
    hw_page_dates(page, reader != HW_FOR_SPRAY_ROOM);
    hw_page_add(page, "</header>\n");
}

static const char put_away[] =
    "<p class=\"out\">Phone, lamp and charger out before you spray.</p>\n";

static void add_main(hw_page *page, hw_reader reader)
{
    hw_page_add(page, "<main>\n");
    switch (reader) {
    case HW_FOR_SHOP:
        hw_page_shop(page);
        break;
    case HW_FOR_SPRAY_ROOM:
        hw_page_slip(page);
        break;
    default:
        hw_page_customer(page);
    }
    hw_page_add(page, "</main>\n");
}

hw_status hw_report_html(const hw_account *account, hw_reader reader, char **out, hw_error *err)
{
    bool slip = reader == HW_FOR_SPRAY_ROOM;
    hw_page page = {.account = account, .err = err, .text = {.ceiling = (size_t)1 << 30}};
    add_head(&page, reader);
    hw_page_add(&page, "%s", slip ? "<aside aria-label=\"First\">\n" : "");
    hw_page_add(&page, "%s", slip ? put_away : "");
    hw_page_add(&page, "%s", slip ? "</aside>\n" : "");
    add_header(&page, reader);
    add_main(&page, reader);
    hw_page_add(&page,
                "<footer>\n<p>Made with huewright %s. Dates and times are UTC.</p>\n%s</footer>\n",
                hw_version(), slip ? put_away : "");
    hw_page_add(&page, "</div>\n</body>\n</html>\n");
    if (page.status != HW_OK) {
        hw_text_free(&page.text);
        return page.status;
    }
    return hw_report_finish(&page.text, out, err);
}
