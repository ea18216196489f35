// server_words.c: sentences of the other stages name options and commands, which a page does not have; here they name what
// it has instead. tests/server/check_words.py holds that each phrase still stands in the sources, and that none that a
// page can meet is missing.
#include "server_internal.h"

typedef struct phrase {
    const char *here, *page; // as they stand in JSON, quotes with their backslash
} phrase;

// A longer phrase stands before one that it holds.
static const phrase phrases[] = {
    // the card and other marks
    {"Mark the grey card with --card x,y,width,height.", "Mark the grey card on the photo."},
    {"Mark the grey card with --card x,y,w,h.", "Mark the grey card on the photo."},
    {"it must match with --target NAME=x,y,w,h.", "it must match on the photo."},
    {"the repair on it: --marks FILE, or --target and --patch; and the card, where it is not "
     "found.",
     "the repair on it; and the card, where it is not found."},
    {"the same kind, or name its grey with --neutral.", "the same kind."},
    {"Mark each strip: --strip \\\"walnut 0=x,y,width,height\\\" --strip \\\"walnut 1=...\\\".",
     "Mark each strip, named by its dye and its passes, as walnut 0, walnut 1."},
    // photos
    {" Give one from here with --sheet.", ""},
    {"where all is dry, say --dry.", "where all is dry, say so below the photo."},
    {"where the clock is wrong, say --dry.", "where the clock is wrong, say that all is dry."},
    {"photograph it from there and add that photo with --from front.",
     "photograph it from there and say that it is from the front."},
    {"Add a photo first: huewright photo JOB FILE", "Photograph it first"},
    {"Name a photo that shows one with --photo, or add one.",
     "Photograph one, and mark it on the photo."},
    {"Add a photo once something was laid, or name a later one with --photo.",
     "Photograph it again once something was laid."},
    {"Name one with --patch: ", "Choose one of these: "},
    {" huewright lamps sets the two side by side.", " Another lamp sets the two side by side."},
    {"Say it with each photo (huewright photo JOB FILE --lamp \\\"shop lamp\\\"), or of an old one "
     "with huewright fix JOB PHOTO --lamp.",
     "Say it with each photo."},
    {"same card, same marks: huewright photo JOB FILE --lamp \\\"customer's lamp\\\".",
     "same card, same marks."},
    // what is logged
    {"can be logged with --before-photo ", "can be logged as laid before photo "},
    {" huewright history shows.", " the history shows."},
    {"huewright fix JOB --rename changes it.", "It can be renamed under Log something else."},
    {" Put it there with: huewright shelf add.", " Put it on the shelf first."},
    {"If another part was meant, correct it with: huewright fix.",
     "If another part was meant, undo it."},
    {" Correct it with: huewright fix.", " If so, undo it."},
    {"Look for its number in huewright history, or mix one with: huewright jar.",
     "Look for its number in the history, or mix one."},
    {"log it for the new job: huewright jar.", "log it for the new job as a jar."},
    {"as huewright history shows it.", "as the history shows it."},
    {" in huewright history.", " in the history."},
    {"Give at least one of --coats with --over, --recoat, --card-size, --per-pass and --area.",
     "Fill in at least one of them."},
    {"Say what it should have been, as --passes 3, or --withdraw when it did not happen.",
     "Say what it should have been."},
    // the shelf, jars, pictures
    {"Use a dye of the shelf (huewright shelf show lists them).", "Use a dye of the shelf."},
    {"Say what family it looks like: --dye \\\"NAME=FAMILY\\\", as --dye \\\"walnut=brown\\\".",
     "Say what family it looks like."},
    {"Say it of each dye by itself: huewright shelf add DYE --made \\\"15 drops in 4 fl oz\\\".",
     "Say it of each dye by itself, on the shelf."},
    {" was made is not said: huewright shelf add ",
     " was made is not said: say it on the shelf of "},
    {" --made \\\"15 drops in 4 fl oz\\\".", ", as 15 drops in 4 fl oz."},
    {"(a job: huewright history)", "(the history of the job)"},
    {"If it shall be there: huewright shelf add.", "If it shall be there, put it on the shelf."},
    {"or name another file with --shelf.", "or another shelf."},
    {"To see what a liquid of your own would do, name it: --dye red=1/4 --passes 2.",
     "Look at its history instead."},
    {"(set JOB --card-size 86x54mm)", "(it is said under Log something else)"},
    {"Check the name, or make a job with: huewright start FOLDER",
     "Choose a job of the list, or start one."},
};

// Every place of `here` in the text; *text is made anew where there is one.
static bool replace_all(hw_text *text, const phrase *one)
{
    hw_text out = {0};
    const char *at = hw_text_words(text), *found = strstr(at, one->here);
    if (!found) {
        return true;
    }
    for (; found; found = strstr(at, one->here)) {
        hw_text_add_bytes(&out, at, (size_t)(found - at));
        hw_text_add(&out, "%s", one->page);
        at = found + strlen(one->here);
    }
    hw_text_add(&out, "%s", at);
    hw_text_free(text);
    *text = out;
    return !out.failed;
}

// Where the card was found and is not sure the sentence names the option that marks it, with all corners. It holds no
// quotes: what lies between two texts, which a person may have written, stays.
static bool replace_corners(hw_text *text)
{
    static const char start[] = "If it is, add --", end[] = " If not, mark the card itself";
    const char *from = strstr(hw_text_words(text), start), *to = from ? strstr(from, end) : NULL;
    hw_text option = {0};
    if (!to || memchr(from, '"', (size_t)(to - from))) {
        return true;
    }
    hw_text_add_bytes(&option, from, (size_t)(to - from));
    phrase one = {option.bytes, "If it is, say yes."};
    bool done = !option.failed && replace_all(text, &one);
    hw_text_free(&option);
    return done;
}

hw_status server_words_for_page(char **json, hw_error *err)
{
    if (!strstr(*json, "huewright ") && !strstr(*json, "--")) { // most answers
        return HW_OK;
    }
    hw_text text = {0};
    hw_text_add(&text, "%s", *json);
    bool done = !text.failed && replace_corners(&text);
    for (size_t i = 0; i < sizeof phrases / sizeof *phrases && done; i++) {
        done = replace_all(&text, &phrases[i]);
    }
    if (!done) {
        hw_text_free(&text);
        return hw_fail_memory(err, "writing the answer");
    }
    hw_free(*json);
    *json = text.bytes;
    return HW_OK;
}
