// report_json.c: the pieces that several JSON shapes share, and the error.
//
// L*a*b* has three decimals: finer than any photo can tell, coarse enough that two machines write
// the same bytes.
#include "report_internal.h"

#include <string.h>

void hw_report_json_text(hw_json *parent, const char *name, const char *value)
{
    hw_text clean = {0};
    hw_report_add_clean(&clean, value);
    if (clean.failed) {
        hw_json_add_tree(parent, name, NULL); // marks the parent as incomplete
    } else {
        hw_json_add_text(parent, name, hw_text_words(&clean));
    }
    hw_text_free(&clean);
}

void hw_report_json_triple(hw_json *parent, const char *name, const double value[3], int decimals)
{
    hw_json *list = hw_json_add_array(parent, name);
    for (int i = 0; i < 3; i++) {
        hw_json_add_rounded(list, NULL, value[i], decimals);
    }
}

void hw_report_json_lab(hw_json *parent, const char *name, hw_lab lab)
{
    const double value[3] = {lab.L, lab.a, lab.b};
    hw_report_json_triple(parent, name, value, 3);
}

void hw_report_json_warnings(hw_json *parent, const hw_warnings *warnings)
{
    hw_json *list = hw_json_add_array(parent, "warnings");
    for (size_t i = 0; i < warnings->count; i++) {
        hw_report_json_text(list, NULL, warnings->text[i]);
    }
}

void hw_report_json_liquid(hw_json *parent, const hw_liquid *liquid)
{
    hw_json *list = hw_json_add_array(parent, "liquid");
    for (size_t i = 0; i < liquid->count; i++) {
        hw_json *dose = hw_json_add_object(list, NULL);
        hw_report_json_text(dose, "dye", liquid->dose[i].dye);
        hw_json_add_number(dose, "strength", liquid->dose[i].strength);
    }
}

hw_status hw_report_json_finish(hw_json *root, char **out, hw_error *err)
{
    char *printed = NULL;
    hw_text text = {0};
    hw_status status =
        root ? hw_json_print(root, true, &printed, err) : hw_fail_memory(err, "writing the result");
    hw_json_free(root);
    if (status == HW_OK) {
        hw_text_add_bytes(&text, printed, strlen(printed));
        hw_text_add(&text, "\n");
        status = hw_report_finish(&text, out, err);
    }
    hw_free(printed);
    return status;
}

hw_status hw_report_error_json(const hw_error *error, char **out, hw_error *err)
{
    hw_json *root = hw_json_new_object();
    hw_json *told = hw_json_add_object(root, "error");
    hw_report_json_text(told, "code", error->code);
    hw_report_json_text(told, "subject", error->subject);
    hw_report_json_text(told, "what", error->what);
    hw_report_json_text(told, "next", error->next);
    return hw_report_json_finish(root, out, err);
}

void hw_report_json_screen(hw_json *parent, const char *name, hw_lab lab)
{
    int rgb[3];
    char code[8];
    hw_report_codes(lab, rgb);
    hw_format_text(code, sizeof code, "#%02x%02x%02x", (unsigned)rgb[0] & 255U,
                   (unsigned)rgb[1] & 255U, (unsigned)rgb[2] & 255U);
    hw_json_add_text(parent, name, code);
}
