// server_qr.c: a QR code (ISO/IEC 18004) as text for a terminal: two rows of modules in each line of half blocks, with the
// quiet zone of four modules that the standard asks for. The only file that knows libqrencode.
#include <qrencode.h>

#include "server_internal.h"

#define QUIET 4 // modules

static bool is_dark(const QRcode *code, int x, int y)
{
    bool inside = x >= 0 && y >= 0 && x < code->width && y < code->width;
    return inside && (code->data[y * code->width + x] & 1);
}

// `coloured`: black on white, said to the terminal, since dark terminals would show the code as its negative.
static void draw(const QRcode *code, bool coloured, hw_text *out)
{
    static const char *const block[2][2] = {{" ", "\u2584"}, {"\u2580", "\u2588"}};
    for (int y = -QUIET; y < code->width + QUIET; y += 2) {
        hw_text_add(out, "%s", coloured ? "\033[30;107m" : "");
        for (int x = -QUIET; x < code->width + QUIET; x++) {
            hw_text_add(out, "%s", block[is_dark(code, x, y)][is_dark(code, x, y + 1)]);
        }
        hw_text_add(out, "%s\n", coloured ? "\033[0m" : "");
    }
}

hw_status server_qr(const char *words, bool coloured, hw_text *out, hw_error *err)
{
    QRcode *code = QRcode_encodeString8bit(words, 0, QR_ECLEVEL_M);
    if (!code) {
        return hw_fail_memory(err, "drawing the code for the camera");
    }
    draw(code, coloured, out);
    QRcode_free(code);
    return out->failed ? hw_fail_memory(err, "drawing the code for the camera") : HW_OK;
}
