// fuzz_log.c: any bytes as a job's log, and any JSON as an event.
#include "job_internal.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    hw_limits limits = hw_limits_default();
    hw_log_reader reader = {.bytes = (const char *)bytes, .count = count, .whole = true};
    hw_line_state state;
    hw_json *json = NULL;
    while (hw_log_next(&reader, &limits, &state, &json)) {
        hw_json_free(json);
    }
    hw_error err = {0};
    hw_event event = {0};
    if (hw_json_parse((const char *)bytes, count, &limits, "fuzz", &json, &err) == HW_OK) {
        if (hw_event_read(json, &limits, &event)) {
            hw_event_free(&event);
        }
        hw_json_free(json);
    }
    return 0;
}
