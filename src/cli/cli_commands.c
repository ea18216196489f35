// cli_commands.c: all commands and their options. To add an option, add its line here: parser, help
// and errors follow, and a test asks for it in the manual page.
#include "cli_internal.h"

const cli_option cli_everywhere[] = {
    {"json", NULL, "give the result as JSON; an error too", false},
    {"quiet", NULL, "only the answer itself: no notes, no explanations", false},
    {"help", NULL, "show what the command does", false},
    {"version", NULL, "show the version and the limits", false},
    {0},
};

const cli_option cli_mark_options[] = {
    {"marks", "FILE", "the marks in a JSON file", false},
    {"card", "R", "where the grey card is; again where it, or another like it, also lies", true},
    {"neutral", "NAME=R", "a neutral step: white, grey, black, or its own L*", true},
    {"chart", "CORNERS",
     "a 24-patch colour chart: outer corners of dark skin, bluish green, black, white", false},
    {"field", "NAME=R", "a plain even board that shows how the light falls", true},
    {"target", "NAME=R", "old wood to be matched", true},
    {"patch", "NAME=R", "a repair", true},
    {"beside", "PATCH=T1,T2", "the old wood that this repair must match; else all of it", true},
    {"kind", "PATCH=KIND", "let_in: meets old wood at a joint (the default); board: a whole board",
     true},
    {"card-lab", "L,a,b", "the card's own measured colour (D50); else a plain 18 % grey", false},
    {"sheet", "PHOTO", "photo of a plain sheet in the piece's place: shows how the light falls",
     false},
    {0},
};

static const cli_option read_options[] = {
    {"why", NULL, "show how the numbers came about", false},
    {"exit-status", NULL, "exit with 1 when a repair is not one to leave", false},
    {0},
};

static const cli_option start_options[] = {
    {"title", "T", "what the piece is called", false},
    {"from", "JOB", "an earlier job: its jars, settings and dyes are taken over", false},
    {"shelf", "FILE", "with --from: the shelf that gets its dyes; else your own", false},
    {0},
};

static const cli_option photo_options[] = {
    {"view", "V", "which side of the piece it shows; else front", false},
    {"lamp", "L", "the lamp that it was taken under", false},
    {"state", "PART=S", "bare, not_dry, damp, sealed, finished or rubbed_out", true},
    {"note", "T", "a note", false},
    {"shelf", "FILE", "the shelf that learns from the passes; else your own", false},
    {0},
};

static const cli_option advise_options[] = {
    {"patch", "NAME", "one repair; else the sheet for all", false},
    {"families", "N", "the most dye families in one plan, 1 to 3; else 2", false},
    {"shelf", "FILE", "the shelf of dyes in use; else your own", false},
    {"exit-status", NULL, "exit with 1 when there is nothing to lay", false},
    {0},
};

static const cli_option pass_options[] = {
    {"patch", "NAME", "a repair that it was laid on", true},
    {"dye", "DYE=STRENGTH", "a dye of the liquid, one or two; strength as 1/4 or 0.25", true},
    {"jar", "N", "the jar that the liquid came from, instead of its dyes", false},
    {"passes", "N", "how many; else 1", false},
    {"minutes", "M", "how long it has dried", false},
    {"before-photo", "N", "it was laid before that photo and is logged only now", false},
    {"note", "T", "a note", false},
    {"shelf", "FILE", "the shelf of dyes in use; else your own", false},
    {0},
};

static const cli_option coat_options[] = {
    {"part", "NAME", "a part that it was laid on; else the whole piece", true},
    {"before-photo", "N", "it was laid before that photo and is logged only now", false},
    {"note", "T", "a note", false},
    {0},
};

static const cli_option takeoff_options[] = {
    {"part", "NAME", "a part that it was taken off", true},
    {"wiped", NULL, "toner wiped back, down to the last coat", false},
    {"stripped", NULL, "everything taken off, down to the wood", false},
    {"before-photo", "N", "it was done before that photo and is logged only now", false},
    {"note", "T", "a note", false},
    {0},
};

static const cli_option jar_options[] = {
    {"dye", "DYE=STRENGTH", "a dye in it, one or two; strength as 1/4 or 0.25", true},
    {"volume", "V", "how much is mixed, as \"200 ml\" or \"8 fl oz\": tells how", false},
    {"note", "T", "a note", false},
    {"shelf", "FILE", "the shelf of dyes in use; else your own", false},
    {0},
};

static const cli_option note_options[] = {
    {"part", "NAME", "the part that it is about; else the whole piece", false},
    {0},
};

static const cli_option approve_options[] = {
    {"by", "WHO", "who found the colour right", false},
    {"lamp", "L", "the lamp that it was looked at under", false},
    {"note", "T", "a note", false},
    {0},
};

static const cli_option fix_options[] = {
    {"withdraw", NULL, "it did not happen; of a correction: it holds no more", false},
    {"rename", "OLD=NEW", "another name for a part, in all that is logged (without EVENT)", false},
    {"part", "NAME", "the parts that it was on, or that a note is about", true},
    {"dye", "DYE=STRENGTH", "the dyes that were in it", true},
    {"jar", "N", "the jar that it came from", false},
    {"passes", "N", "how many passes it was", false},
    {"minutes", "M", "how long it had dried", false},
    {"before-photo", "N", "the photo that it was done before; 0: none, it is in its place", false},
    {"coat", "KIND", "the coat that it was: sealer, barrier or clear", false},
    {"wiped", NULL, "it was wiped back, not stripped", false},
    {"stripped", NULL, "it was stripped, not wiped back", false},
    {"state", "PART=S", "the state that a part was in on the photo", true},
    {"view", "V", "the side of the piece that the photo shows", false},
    {"lamp", "L", "the lamp that it was", false},
    {"marks", "FILE", "the photo's marks; it is read again with them", false},
    {"card-lab", "L,a,b", "the card's own colour; the photo is read again by it", false},
    {"by", "WHO", "who approved it", false},
    {"note", "T", "the note", false},
    {"title", "T", "what the piece is called (event 1)", false},
    {"shelf", "FILE", "the shelf of dyes in use; else your own", false},
    {0},
};

static const cli_option history_options[] = {
    {"shelf", "FILE", "the shelf that knows how strong the jars are; else your own", false},
    {0},
};

static const cli_option import_options[] = {
    {"card", "SAMPLE", "the sample of the file that is the grey card", false},
    {"target", "NAME=SAMPLES", "old wood: its samples in the file, as rail=1,2", true},
    {"patch", "NAME=SAMPLES", "a repair: its samples in the file", true},
    {"state", "PART=S", "bare, not_dry, damp, sealed, finished or rubbed_out", true},
    {"note", "T", "a note", false},
    {"shelf", "FILE", "the shelf that learns from the passes; else your own", false},
    {0},
};

static const cli_option export_options[] = {
    {"csv", NULL, "a table for spreadsheets: a row a part of a reading, a row a pass", false},
    {"cgats", NULL, "the colours read, as CGATS text", false},
    {"output", "FILE", "the file to make; else to standard output", false},
    {0},
};

static const cli_option keep_options[] = {
    {"exit-status", NULL, "exit with 1 when something of the job is lost or damaged", false},
    {0},
};

static const cli_option shelf_options[] = {
    {"shelf", "FILE", "the shelf of dyes in use; else your own", false},
    {0},
};

static const cli_option add_options[] = {
    {"family", "F",
     "the family that it looks like: amber, orange, red, red-brown, brown, black, "
     "green, blue, violet",
     false},
    {"tool", "TOOL", "how it is laid: spray, brush, pad or wipe", false},
    {"steps", "READINGS", "a board's readings for 0, 1, 2 ... passes: \"L,a,b L,a,b ...\"", false},
    {"made", "WORDS", "how the liquid of strength 1 was made: \"15 drops in 4 fl oz\", \"0.5 %\"",
     false},
    {"note", "T", "a note", false},
    {"shelf", "FILE", "the shelf to put it on; else your own", false},
    {0},
};

static const cli_option remove_options[] = {
    {"shelf", "FILE", "the shelf to take it from; else your own", false},
    {0},
};

static const cli_option board_options[] = {
    {"strip", "NAME=R",
     "a strip, named by its dye and its passes: \"walnut 2\", \"walnut 2 coated\"", true},
    {"dye", "DYE=FAMILY", "a new dye and the family that it looks like; without = one of the shelf",
     true},
    {"tool", "TOOL", "how it was laid: spray, brush, pad or wipe", false},
    {"made", "WORDS", "how the liquid of strength 1 was made: \"15 drops in 4 fl oz\", \"0.5 %\"",
     false},
    {"note", "T", "a note", false},
    {"shelf", "FILE", "the shelf to put it on; else your own", false},
    {0},
};

const cli_command cli_commands[] = {
    {"read",
     "PHOTO",
     1,
     1,
     "say what one photo shows: how far a repair is from the old wood, and whether to touch it",
     {read_options, cli_mark_options, cli_everywhere},
     cli_run_read},
    {"start",
     "JOB",
     1,
     1,
     "make a new job folder",
     {start_options, NULL, cli_everywhere},
     cli_run_start},
    {"photo",
     "JOB FILE",
     2,
     2,
     "add a photo to a job; without marks, those of the last photo of the view",
     {photo_options, cli_mark_options, cli_everywhere},
     cli_run_photo},
    {"advise",
     "JOB",
     1,
     1,
     "say what to lay next and what it will look like, or to stop",
     {advise_options, NULL, cli_everywhere},
     cli_run_advise},
    {"pass",
     "JOB",
     1,
     1,
     "log one liquid laid on one or more repairs",
     {pass_options, NULL, cli_everywhere},
     cli_run_pass},
    {"coat",
     "JOB KIND",
     2,
     2,
     "log a coat of finish: sealer, barrier or clear",
     {coat_options, NULL, cli_everywhere},
     cli_run_coat},
    {"takeoff",
     "JOB",
     1,
     1,
     "log that toner was wiped back, or a part stripped",
     {takeoff_options, NULL, cli_everywhere},
     cli_run_takeoff},
    {"jar",
     "JOB",
     1,
     1,
     "give a mixed liquid a number to be written on its jar",
     {jar_options, NULL, cli_everywhere},
     cli_run_jar},
    {"note", "JOB TEXT", 2, 2, "log a note", {note_options, NULL, cli_everywhere}, cli_run_note},
    {"approve",
     "JOB",
     1,
     1,
     "log who found the colour right, and under which lamp",
     {approve_options, NULL, cli_everywhere},
     cli_run_approve},
    {"fix",
     "JOB [EVENT]",
     1,
     2,
     "say what an event of the log should have said; its line stays",
     {fix_options, NULL, cli_everywhere},
     cli_run_fix},
    {"history",
     "JOB",
     1,
     1,
     "show all that was seen, done and said, and what each pass really did",
     {history_options, NULL, cli_everywhere},
     cli_run_history},
    {"import",
     "JOB FILE",
     2,
     2,
     "take in readings of an instrument: CGATS or CSV",
     {import_options, NULL, cli_everywhere},
     cli_run_import},
    {"export",
     "JOB",
     1,
     1,
     "give all of a job to other programs, with --csv, --json or --cgats",
     {export_options, NULL, cli_everywhere},
     cli_run_export},
    {"check",
     "JOB",
     1,
     1,
     "say whether all that was saved is there; mend half a line at the end of the log",
     {keep_options, NULL, cli_everywhere},
     cli_run_check},
    {"pack",
     "JOB FILE",
     2,
     2,
     "put a job into one zip file, for keeping or sending",
     {keep_options, NULL, cli_everywhere},
     cli_run_pack},
    {"unpack",
     "FILE [FOLDER]",
     1,
     2,
     "make a job folder from such a file, and check it",
     {keep_options, NULL, cli_everywhere},
     cli_run_unpack},
    {"shelf show",
     "",
     0,
     0,
     "show the dyes in use and how well each is known",
     {shelf_options, NULL, cli_everywhere},
     cli_run_shelf_show},
    {"shelf add",
     "DYE",
     1,
     1,
     "put a dye on the shelf, as a guess or with the readings of a step board",
     {add_options, NULL, cli_everywhere},
     cli_run_shelf_add},
    {"shelf remove",
     "DYE",
     1,
     1,
     "take a dye off the shelf, with all that was seen of it",
     {remove_options, NULL, cli_everywhere},
     cli_run_shelf_remove},
    {"stepboard",
     "PHOTO",
     1,
     1,
     "teach the shelf a dye from a photo of strips with 0, 1, 2 ... passes",
     {board_options, cli_mark_options, cli_everywhere},
     cli_run_stepboard},
    {"help",
     "[COMMAND]",
     0,
     2,
     "show the commands, or what one of them does",
     {NULL, NULL, cli_everywhere},
     cli_run_help},
    {"version",
     "",
     0,
     0,
     "show the version and the limits",
     {NULL, NULL, cli_everywhere},
     cli_run_version},
    {0},
};
