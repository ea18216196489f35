// job_shelf.c: the finisher's dyes, one file for all jobs:
//
//   {"format":1,"dyes":[{"name":"walnut","family":"brown","density":[0.06,0.08,0.11],"exponent":1,
//                        "u_strength":0.1,"guess":false}]}
//
// density: one pass at strength 1, natural logarithm, long, middle and short sharpened band.
// u_strength: standard deviation of the logarithm of its strength. A member that is missing is the
// family's guess. The file is replaced whole, never edited in place.
#include "job_internal.h"

bool hw_shelf_user_path(char *out, size_t size)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    if (data && data[0] == '/') { // the base directory specification asks for absolute paths
        return hw_format_text(out, size, "%s/huewright/shelf.json", data);
    }
    return home && home[0] &&
           hw_format_text(out, size, "%s/.local/share/huewright/shelf.json", home);
}

static hw_status bad_shelf(const char *path, size_t number, const char *why, hw_error *err)
{
    return hw_fail(err, HW_ERR_INPUT, "shelf-format", path,
                   "Mend the file, or move it away to start with an empty shelf.", "dye %zu %s",
                   number, why);
}

static hw_status read_dye(const hw_json *json, const char *path, size_t number, hw_dye *out,
                          hw_error *err)
{
    hw_family family;
    const char *name = hw_json_member_text(json, "name");
    if (!hw_family_from_name(hw_json_member_text(json, "family"), &family)) {
        return bad_shelf(path, number, "has no family that huewright knows", err);
    }
    hw_dye dye = hw_dye_guess(family);
    if (!hw_name_is_usable(name)) {
        return bad_shelf(path, number, "has no usable name", err);
    }
    hw_copy_text(dye.name, sizeof dye.name, name);
    const hw_json *density = hw_json_member(json, "density");
    if (density) {
        const hw_json *item = hw_json_first(density);
        for (int band = 0; band < 3; band++, item = hw_json_next(item)) {
            if (!hw_json_number(item, &dye.density[band]) ||
                !(dye.density[band] >= 0.0 && dye.density[band] <= 10.0)) {
                return bad_shelf(path, number,
                                 "has a density that is not three numbers from 0 to 10", err);
            }
        }
        dye.guess = false;
        dye.u_strength = 0.2; // a known dye of unknown sureness (chosen)
    }
    hw_json_member_number(json, "exponent", &dye.exponent);
    hw_json_member_number(json, "u_strength", &dye.u_strength);
    hw_json_bool(hw_json_member(json, "guess"), &dye.guess);
    if (!(dye.exponent >= 0.3 && dye.exponent <= 3.0 && dye.u_strength >= 0.0 &&
          dye.u_strength <= 3.0)) {
        return bad_shelf(path, number, "has an exponent or a doubt that cannot be", err);
    }
    *out = dye;
    return HW_OK;
}

static hw_status read_dyes(const hw_json *list, const char *path, hw_shelf *shelf, hw_error *err)
{
    size_t count = hw_json_count(list);
    shelf->dye = hw_alloc_array(count, sizeof *shelf->dye);
    if (!shelf->dye) {
        return hw_fail_memory(err, "reading the shelf");
    }
    for (const hw_json *item = hw_json_first(list); item; item = hw_json_next(item)) {
        hw_dye dye;
        hw_status status = read_dye(item, path, shelf->count + 1, &dye, err);
        if (status != HW_OK) {
            return status;
        }
        if (hw_shelf_find(shelf, dye.name)) {
            return bad_shelf(path, shelf->count + 1, "has the name of another", err);
        }
        shelf->dye[shelf->count++] = dye;
    }
    return HW_OK;
}

hw_status hw_shelf_load(const char *path, const hw_limits *limits, hw_shelf *out, hw_error *err)
{
    hw_limits usual = hw_limits_default();
    uint8_t *bytes = NULL;
    size_t count = 0;
    hw_json *json = NULL;
    hw_shelf shelf = {0};
    double format = 0.0;
    limits = limits ? limits : &usual;
    if (!hw_file_exists(path)) {
        *out = shelf;
        return HW_OK;
    }
    hw_status status = hw_file_read(path, limits->json_bytes, &bytes, &count, err);
    if (status == HW_OK) {
        status = hw_json_parse((const char *)bytes, count, limits, path, &json, err);
    }
    if (status != HW_OK) {
        goto done;
    }
    const hw_json *list = hw_json_member(json, "dyes");
    if (!hw_json_member_number(json, "format", &format) || format != 1.0 ||
        !hw_json_is_array(list) || hw_json_count(list) > 200) {
        status = hw_fail(err, HW_ERR_INPUT, "shelf-format", path,
                         "Mend the file, or move it away to start with an empty shelf.",
                         "this is no shelf that this version can read");
        goto done;
    }
    status = read_dyes(list, path, &shelf, err);
    if (status == HW_OK) {
        *out = shelf;
        shelf = (hw_shelf){0};
    }
done:
    hw_shelf_free(&shelf);
    hw_json_free(json);
    hw_free(bytes);
    return status;
}
