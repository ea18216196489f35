// test_qr.c: prints words as a QR code, for check_qr.py: test_qr WORDS [coloured].
#include "check.h"
#include "server_internal.h"

int main(int count, char **words)
{
    hw_text out = {0};
    if (count < 2 || server_qr(words[1], count > 2, &out, NULL) != HW_OK) {
        return 1;
    }
    fputs(hw_text_words(&out), stdout);
    hw_text_free(&out);
    return 0;
}
