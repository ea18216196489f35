// steps_internal.h: what the steps share. A step is a person's wish; it calls the stages in their
// order and hands results on.
//
//   steps_read.c    photo, mark, card, sample, compare
//   steps_sight.c   each repair seen from a distance
//   steps_shots.c   several photos of one state read together; photos from several sides
//   steps_look_back.c  what earlier readings of the job say
//   steps_elsewhere.c  old wood that only another photo of the job shows
//   steps_place.c   the card found where nobody marked it
//   steps_follow.c  the marks of the last photo, followed to this one
//   steps_ring.c    old wood proposed where hardly any is marked
//   steps_open.c    a photo on the bench: decoded once, read often, in no job yet
//   steps_photo.c   the same into a job: marks given or reused, original kept, two lines logged
//   steps_question.c  what is on the wood, where it is not known
//   steps_shot.c    when a photo was taken, by its camera, and what was set otherwise than before
//   steps_state.c   what parts are in what state, and which states cannot be compared
//   steps_advise.c  the kept original read again, then tone; what was shown is logged
//   steps_see.c     a photo of the job with its pixels; the looks of a repair under passes
//   steps_picture.c one picture of a job
//   steps_report.c  all that the report of a job tells
//   steps_day.c     what stands on the sheet beside that: jars, liquid, time, what is still to come
//   steps_coats.c   the look once the clear coats to come lie on it, and what to plan for until then
//   steps_lamps.c   a repair under two lamps
//   steps_learn.c   what the job's passes showed joins the shelf; forecasts of a pass
//   steps_job.c     start, pass, history
//   steps_overview.c  the job as it stands, from its log alone
//   steps_carry.c   a job started from an earlier one
//   steps_seen.c    what was logged behind what a person has seen
//   steps_log.c     a coat laid, something taken off, a jar mixed, a note, an approval, what holds for
//                   the whole job
//   steps_fix.c     an event corrected or withdrawn, a part renamed
//   steps_measured.c  what an instrument measured, as a reading
//   steps_kept.c    a photo of the job, read again from its kept original
//   steps_exchange.c  a job for other programs
//   steps_import.c  readings of an instrument into a job
//   steps_keep.c    check, pack, unpack
//   steps_shelf.c   the dyes in use; a dye on the shelf and off it
//   steps_board.c   a step board: photo, mark, card, sample, then a fit for each dye
//   steps_camera.c  chart photos that teach a camera; what is known of it, for a photo
#ifndef HUEWRIGHT_STEPS_INTERNAL_H
#define HUEWRIGHT_STEPS_INTERNAL_H

#include "base_internal.h"
#include "huewright/steps.h"

// The limits given, or the defaults.
hw_limits hw_steps_limits(const hw_limits *limits);

// Opens the job, adds its warnings and names the entry of what is logged next. *again: that is logged already, so there is
// nothing more to do. Free *out with hw_job_free, also after a failure.
HW_CHECK hw_status hw_steps_open_to_log(const char *folder, const char *entry,
                                        const hw_limits *limits, hw_job **out, bool *again,
                                        hw_warnings *warnings, hw_error *err);

// HW_ERR_CALL moved-on. No parts: the whole piece.
HW_CHECK hw_status hw_steps_check_seen(const hw_job *job, long seen,
                                       const char (*parts)[HW_NAME_SIZE], size_t count, int64_t now,
                                       hw_error *err);
// The same of a photo with these marks, which asks for what was done to the wood on it, not for other photos.
HW_CHECK hw_status hw_steps_check_taken(const hw_job *job, long seen, const hw_marks *marks,
                                        int64_t now, hw_error *err);

// The marks of a request: its file, and a copy of those given.
HW_CHECK hw_status hw_steps_marks(const hw_read_request *request, const hw_limits *limits,
                                  hw_marks *out, hw_warnings *warnings, hw_error *err);

// Marks against the picture that they were made on.
HW_CHECK hw_status hw_steps_check_marks(const hw_marks *marks, const hw_photo *photo,
                                        const hw_limits *limits, hw_error *err);

// The card as it was found in a photo: looked for when it is asked for, and once.
typedef struct hw_steps_sought {
    bool done;
    hw_card_find find;
} hw_steps_sought;
HW_CHECK hw_status hw_steps_seek_card(const hw_photo *photo, hw_steps_sought *sought,
                                      hw_error *err);
void hw_steps_sought_free(hw_steps_sought *sought); // leaves an empty one

// Tests the marks as hw_steps_check_marks_in_job does and, where it is the card alone that nobody marked, finds it in
// the picture and adds it, with a word on where. HW_ERR_INPUT with the code card-missing, or card-unsure with the
// proposal in its sentences unless `is_the_card`: a person said that it is. `sought` may be NULL, also below.
HW_CHECK hw_status hw_steps_place_card(const hw_photo *photo, bool is_the_card,
                                       hw_steps_sought *sought, const hw_earlier_list *known,
                                       const hw_limits *limits, hw_marks *marks,
                                       hw_warnings *warnings, hw_error *err);

// Takes over what `own` lacks of others: wood and strips, and each of card, steps, chart and field that it brings none of
// its own for.
HW_CHECK hw_status hw_steps_put_own(hw_marks *own, const hw_marks *others, hw_error *err);

bool hw_steps_has_wood(const hw_marks *marks); // is any old wood or repair marked?

// Marks of one photo, carried to another.
typedef struct hw_followed {
    hw_marks marks;
    bool sure;
    char why[200];     // not sure: why
    bool as_it_lay;    // nothing moved
    double confidence; // as hw_carried_marks
    double likeness;   // mean of the old wood's
    double moved_px, error_px;
    hw_marks
        lay; // card, steps, chart and field that nothing shows to lie where they lay, though the wood does; free too
} hw_followed;
void hw_followed_free(hw_followed *followed);

// From the view's last photo in the job. Free *out with hw_followed_free. HW_ERR_CALL marks-moved where that is not sure: then the marks as they may
// lie are in a file beside the log, with a picture.
HW_CHECK hw_status hw_steps_follow_marks(const hw_job *job, const hw_photo_event *last,
                                         const hw_photo *photo, const hw_look *look,
                                         const hw_limits *limits, hw_followed *out,
                                         hw_warnings *warnings, hw_error *err);
// The same, but where it is not sure *out holds the marks as they may lie, and why.
HW_CHECK hw_status hw_steps_follow_or_propose(const hw_job *job, const hw_photo_event *last,
                                              const hw_photo *photo, const hw_look *look,
                                              const hw_limits *limits, hw_followed *out,
                                              hw_warnings *warnings, hw_error *err);
// Adds what `marks`, carried from that last photo, lack of the wood that was marked in the photos before it, back to the one
// whose marks were drawn by hand; and says what of it is still not in this photo.
HW_CHECK hw_status hw_steps_follow_missing(const hw_job *job, const hw_event *last,
                                           const hw_look *look, const hw_limits *limits,
                                           hw_marks *marks, hw_warnings *warnings, hw_error *err);
// Between photos of one call. HW_ERR_CALL marks-moved, about the photo `called`.
HW_CHECK hw_status hw_steps_carry(const hw_marks *marks, const hw_look *earlier, const hw_look *now,
                                  const char *called, hw_followed *out, hw_warnings *warnings,
                                  hw_error *err);

// A decoded photo with these marks becomes a reading; a card that nobody marked is found (hw_steps_place_card). `known` may be NULL; old wood elsewhere that this photo cannot
// be compared with is taken out of it. *out is empty on failure.
HW_CHECK hw_status hw_steps_read_decoded(const hw_photo *photo, const hw_marks *marks,
                                         bool is_the_card, const hw_card_options *card,
                                         hw_earlier_list *known, const hw_limits *limits,
                                         hw_reading *out, hw_error *err);

HW_CHECK hw_status hw_steps_read_sought(const hw_photo *photo, const hw_marks *marks,
                                        bool is_the_card, hw_steps_sought *sought,
                                        const hw_card_options *card, hw_earlier_list *known,
                                        const hw_limits *limits, hw_reading *out, hw_error *err);

// HW_ERR_CALL sight-distance.
HW_CHECK hw_status hw_steps_check_distance(double distance_mm, hw_error *err);
// Fills reading->sights: each repair of this photo, read by reading->light, seen from there. card_mm 0: not said.
HW_CHECK hw_status hw_steps_sights(const hw_photo *photo, double distance_mm,
                                   const double card_mm[2], hw_reading *reading, hw_error *err);
// Millimetres that a pixel is on the piece, by the card; or 0 and *why_not says why it is not known (no full stop; ""
// where it is). Not above 0: the card's sides were not said.
double hw_steps_pixel_mm(const hw_reading *reading, const double card_mm[2], const char **why_not);

// One of several photos of the same state.
typedef struct hw_steps_shot {
    char called[320]; // as the person named it
    uint8_t *bytes;   // the file
    size_t count;
    hw_marks marks;         // of it; empty until it is read where they are carried
    bool own_marks;         // drawn on it
    hw_marks lay;           // card and steps as they lay on the photo that the marks came from
    hw_steps_sought sought; // the card in it; owned
    hw_error why;           // it cannot be read; status HW_OK where it can
    bool read;              // filled by hw_steps_read_shots, also the next
    const char *format;     // "JPEG"; static
    const char *extension;  // filled by whoever keeps it in a job
} hw_steps_shot;

typedef struct hw_steps_shots {
    hw_steps_shot shot[HW_SHOTS_MOST];
    size_t count;
    size_t first;     // the first that could be decoded: the marks are drawn on it
    hw_photo *photo;  // that one; NULL once it is read
    bool keep_photo;  // ... but then it stays (hw_steps_shots_pixels)
    hw_look *look;    // what it is recognised by (hw_steps_look_at_first), or NULL
    bool is_the_card; // what is found but not sure is the card: a person said so
    // What the last photo of the piece read, or NULL: a thing by which the old wood reads the same is the card.
    const hw_reading_event *last;
    const hw_reading *like;            // the same, of another photo of the call; or NULL
    double distance_mm, card_mm[2];    // as of the request: each is looked at from there
    hw_more_photo more[HW_SHOTS_MOST]; // for the event (hw_steps_keep_shots)
} hw_steps_shots;

void hw_steps_shots_free(hw_steps_shots *shots); // leaves an empty one; also after a failure

// Takes all files of a request into memory. Errors of single ones stay in them. HW_ERR_CALL shots-many.
HW_CHECK hw_status hw_steps_shots_take(const hw_read_request *read, const hw_limits *limits,
                                       hw_steps_shots *out, hw_error *err);
// The same, with marks of their own, and decodes the first that can be. Errors of
// single ones stay in them. HW_ERR_CALL shots-many; the first one's error where none can be decoded.
HW_CHECK hw_status hw_steps_shots_open(const hw_read_request *read, const hw_limits *limits,
                                       hw_steps_shots *out, hw_warnings *warnings, hw_error *err);
// The same of a photo event, from the job. `marks` of its first photo: those of the event itself, or others that it is
// to be read with.
HW_CHECK hw_status hw_steps_shots_open_kept(const hw_job *job, const hw_photo_event *event,
                                            const hw_marks *marks, const hw_limits *limits,
                                            hw_steps_shots *out, hw_error *err);
// Fills shots->look, once, while the first one's pixels are there.
HW_CHECK hw_status hw_steps_look_at_first(hw_steps_shots *shots, hw_error *err);
// The first one is left out, for that reason, and the next that can be decoded and has no marks of its own takes its
// place; false where there is none: then all is as it was.
bool hw_steps_shots_next(hw_steps_shots *shots, const hw_error *why, const hw_limits *limits);
// Keeps it for the next photo of that view, where the event's marks are those of the same photo.
void hw_steps_keep_look(const hw_job *job, const hw_steps_shots *shots, const hw_reading *reading,
                        const hw_photo_event *event);
// None can be read: why.
hw_status hw_steps_shots_refuse(const hw_steps_shots *shots, hw_error *err);
// Says whose marks are taken where the first file cannot be opened.
void hw_steps_warn_first(const hw_steps_shots *shots, const hw_read_request *read,
                         hw_warnings *warnings);
// Reads one after the other and makes one reading of them. `marks`: of those without their own. *out is empty on
// failure.
HW_CHECK hw_status hw_steps_read_shots(hw_steps_shots *shots, const hw_marks *marks,
                                       const hw_card_options *card, const hw_earlier_list *known,
                                       const hw_limits *limits, hw_reading *out, hw_error *err);
// The name of the one that stands for all: the first that is used.
const char *hw_steps_leading_name(const hw_steps_shots *shots, const hw_reading *reading);
// Hands over the pixels of that one, where the photos were read with keep_photo. Free with hw_photo_free.
HW_CHECK hw_status hw_steps_shots_pixels(hw_steps_shots *shots, const hw_reading *reading,
                                         const hw_limits *limits, hw_photo **out, hw_error *err);
// Keeps all that were read and fills the event's files; event->marks are there. The event borrows from shots.
HW_CHECK hw_status hw_steps_keep_shots(const hw_job *job, hw_steps_shots *shots,
                                       const hw_reading *reading, hw_photo_event *event,
                                       hw_error *err);
// What a photo for a job is read by, beside its marks.
typedef struct hw_steps_by {
    const hw_job *job;    // NULL: of none
    hw_read_request read; // of it the camera and the side; borrowed
    const char *lamp;     // NULL: not said
    bool has_card_lab;
    hw_lab card_lab;
    const hw_photo *sheet; // or NULL
} hw_steps_by;
// Reads opened shots as a photo that joins the job is read: by what was learned of the camera, and by what the job knows.
// *camera is filled where out->light.camera.photos > 0.
HW_CHECK hw_status hw_steps_read_for_job(hw_steps_shots *shots, const hw_marks *marks,
                                         const hw_steps_by *by, const hw_limits *limits,
                                         int64_t now, hw_camera *camera, hw_reading *out,
                                         hw_warnings *warnings, hw_error *err);
// The card's own colour as an instrument measured it, where nothing else says it.
void hw_steps_take_measured_card(const hw_job *job, bool *has_lab, hw_lab *lab,
                                 hw_warnings *warnings);
// Asks about the repairs of these marks; of `request` the states that were said are looked at.
void hw_steps_ask_about(const hw_job *job, const hw_photo_request *request, const hw_marks *marks,
                        hw_question *out);
// Adds the card that is found in the photo to the marks, sure or not. *found: one was, and it does not lie on wood.
HW_CHECK hw_status hw_steps_find_card(const hw_photo *photo, hw_steps_sought *sought,
                                      hw_marks *marks, bool *found, hw_error *err);
// The last photo of that view from that side or, where there is none, from any; NULL: none.
const hw_event *hw_steps_last_alike(const hw_job *job, const char *view, hw_from from);
// Where this photo, just logged, and one from the other side show a repair in the grain's light, its verdict says so.
void hw_steps_turn(const hw_job *job, long photo, hw_reading *reading);
// Do they lie alike, mark for mark?
bool hw_steps_same_marks(const hw_marks *one, const hw_marks *other);
// What was learned of the camera that took the photo, under that lamp (NULL: not said); false: nothing. A file that
// cannot be read is only warned of.
bool hw_steps_find_camera(const hw_read_request *request, const char *lamp,
                          const hw_photo_facts *facts, const hw_limits *limits, hw_camera *out,
                          hw_warnings *warnings);
// "" or a name as a person wrote it into the reading of a file that names no camera.
void hw_steps_name_camera(const char *camera, hw_reading *reading);

// What readings of the job before event `number` (0: all) say of the patches of these marks.
// Free out->item with hw_free.
HW_CHECK hw_status hw_steps_look_back(const hw_job *job, long number, const hw_marks *marks,
                                      hw_earlier_list *out, hw_error *err);

// Fills `elsewhere` of the patches of these marks that have no old wood beside them: of a photo under that lamp, from that
// side, added at that time, that stands before event `number` (0: behind all).
void hw_steps_find_elsewhere(const hw_job *job, long number, const char *lamp, hw_from from,
                             int64_t at, const hw_marks *marks, hw_earlier_list *known);
// Takes out what another camera or another light forbids, once the light is read. `known` may be NULL.
void hw_steps_test_elsewhere(const hw_reading *reading, hw_earlier_list *known);
// As hw_steps_check_marks, but a patch without old wood in this photo may name some of another one.
HW_CHECK hw_status hw_steps_check_marks_in_job(const hw_marks *marks, const hw_photo *photo,
                                               const hw_earlier_list *known,
                                               const hw_limits *limits, hw_error *err);
// The marks among which the old wood of that patch stands: that photo's, or those of the one that it was compared with.
const hw_marks *hw_steps_wood_marks(const hw_job *job, const hw_event *photo, const char *patch);

// Fills reading->proposed.
HW_CHECK hw_status hw_steps_propose_ring(const hw_photo *photo, hw_reading *reading, hw_error *err);

// A kept file, decoded; `called` names it to the person.
HW_CHECK hw_status hw_steps_decode_stored(const hw_job *job, const char *stored, const char *called,
                                          const hw_limits *limits, hw_photo **out, hw_error *err);

// A photo event's kept original, decoded.
HW_CHECK hw_status hw_steps_decode_kept(const hw_job *job, const hw_photo_event *event,
                                        const hw_limits *limits, hw_photo **out, hw_error *err);

// A photo event read again with these marks, by what was known of the piece before it; what an instrument
// measured from the log. *out is empty on failure.
HW_CHECK hw_status hw_steps_read_kept(const hw_job *job, const hw_event *event,
                                      const hw_marks *marks, const hw_limits *limits,
                                      hw_reading *out, hw_error *err);

// The same of a photo, with its shots as they were read. Free them with hw_steps_shots_free, also after a failure.
HW_CHECK hw_status hw_steps_read_again(const hw_job *job, const hw_event *event,
                                       const hw_marks *marks, const hw_limits *limits,
                                       hw_steps_shots *shots, hw_reading *out, hw_error *err);

// What an instrument measured, compared. *out is empty on failure.
HW_CHECK hw_status hw_steps_make_measured(const hw_photo_event *event,
                                          const hw_logged_sample *measured, size_t count,
                                          hw_reading *out, hw_error *err);
// The same from the log.
HW_CHECK hw_status hw_steps_read_measured(const hw_job *job, const hw_event *event, hw_reading *out,
                                          hw_error *err);

// State of a part as said with photo `number` or, for states that last, before it. `said` (may be
// NULL) are those of a photo that is not logged yet.
hw_state hw_steps_state(const hw_job *job, long number, const hw_part_state *said, size_t count,
                        const char *part);

// When a photo joins the job, and when it was taken.
typedef struct hw_when {
    int64_t now, taken; // taken <= now
} hw_when;

// When a photo was taken by what its camera wrote; `now` where it wrote nothing, where it cannot be, or where the
// clock is not known: the file says how far it is ahead of UTC, or else *clock_s does, seconds, for the clock of this
// place (may be NULL).
int64_t hw_steps_taken_at(const hw_job *job, const hw_photo_facts *facts, const int64_t *clock_s,
                          int64_t now);
// Warns of exposure and white balance that were set otherwise than for that earlier photo (may be NULL) of the same
// camera.
void hw_steps_warn_settings(const hw_job *job, const hw_event *last, const hw_photo_facts *facts,
                            hw_warnings *warnings);
// Was a photo that was taken then surely taken before a pass on this patch was laid?
bool hw_steps_taken_before_pass(const hw_job *job, const char *patch, int64_t taken);

// The states said, and "not dry" for each other part of these marks on which something was laid less than the
// job's recoat time before the photo was taken, or after it, with a warning; none where the person says that all is
// dry. Free *out with hw_free.
HW_CHECK hw_status hw_steps_add_wet(const hw_job *job, const hw_marks *marks,
                                    const hw_part_state *said, size_t count, bool all_dry,
                                    hw_when when, hw_part_state **out, size_t *out_count,
                                    hw_warnings *warnings, hw_error *err);

// Is this patch bare and dry beside old wood with a finish on it? Then the two cannot be compared.
// *target gets the name of the first such.
bool hw_steps_bare_beside_finished(const hw_job *job, long number, const hw_part_state *said,
                                   size_t count, const hw_marks *marks, const hw_mark *patch,
                                   const char **target);
void hw_steps_warn_states(const hw_job *job, long number, const hw_part_state *said, size_t count,
                          const hw_marks *marks, hw_warnings *warnings);

// Checks of what a person says was done; `warnings` gets what is odd and logged all the same.
HW_CHECK hw_status hw_steps_check_event(const hw_job *job, const hw_event *event,
                                        const hw_shelf *shelf, hw_warnings *warnings,
                                        hw_error *err);
HW_CHECK hw_status hw_steps_check_pass(const hw_job *job, const hw_pass_event *pass,
                                       const hw_shelf *shelf, hw_error *err);
HW_CHECK hw_status hw_steps_check_amount(const hw_pass_event *pass,
                                         hw_error *err);              // passes, minutes
HW_CHECK hw_status hw_steps_check_hours(double hours, hw_error *err); // 0: not said
HW_CHECK hw_status hw_steps_check_liquid(const hw_liquid *liquid, const hw_shelf *shelf,
                                         hw_error *err);
HW_CHECK hw_status hw_steps_check_parts(const char (*parts)[HW_NAME_SIZE], size_t count,
                                        hw_error *err);
HW_CHECK hw_status hw_steps_check_before_photo(const hw_job *job, long before_photo, hw_error *err);
HW_CHECK hw_status hw_steps_check_text(const char *what, const char *text, hw_error *err);
// A file's own name, without folders; bytes that are no UTF-8 as '?'.
void hw_steps_name_of_file(char *out, size_t size, const char *path);
// Every state names a part that is marked on that photo.
HW_CHECK hw_status hw_steps_check_states(const hw_photo_event *photo, hw_error *err);
// The liquid of the jar that a pass names; nothing where it names none.
HW_CHECK hw_status hw_steps_take_jar(const hw_job *job, hw_pass_event *pass, hw_error *err);

// What is said beside advice of how the repair looks under another lamp, in sentences, cut at `size`. True: it was
// photographed under two lamps as it is now, and they say what came of it; false: they ask for the second photo
// before the last pass.
bool hw_steps_say_lamps(const hw_job *job, const char *patch, char *words, size_t size);

// The shelf in use with all that this job showed; what is new is kept in the shelf file (where that
// fails, a warning says so). Asks about photo `ask_photo` (0: nothing is asked).
HW_CHECK hw_status hw_steps_learn(const hw_job *job, const char *shelf_path, long ask_photo,
                                  const hw_limits *limits, hw_shelf *out, hw_warnings *warnings,
                                  hw_error *err);

// ---- Showing -----------------------------------------------------------------------

// A photo of the job as it is read today, with its pixels.
typedef struct hw_steps_seen {
    long photo; // number of its event
    hw_reading reading;
    hw_photo *pixels; // of the shot that stands for all; owned, may be freed before the rest
} hw_steps_seen;

// HW_ERR_CALL picture-measured: it is no photo, an instrument measured it. Free with hw_steps_seen_free.
HW_CHECK hw_status hw_steps_see(const hw_job *job, const hw_event *event, const hw_limits *limits,
                                hw_steps_seen *out, hw_error *err);
void hw_steps_seen_free(hw_steps_seen *seen); // leaves an empty one
// The same, but what an instrument measured is read too; it has no pixels.
HW_CHECK hw_status hw_steps_see_any(const hw_job *job, const hw_event *event,
                                    const hw_limits *limits, hw_steps_seen *out, hw_error *err);
// The last photo of that view, or of that patch (NULL: any), that has a picture; NULL: none.
const hw_event *hw_steps_last_picture(const hw_job *job, const char *view, const char *patch);

// What hw_steps_advise gives, with nothing logged, and what it rests on. `seen`: photos that need not be read again;
// job and seen are borrowed and must outlive it.
typedef struct hw_steps_plan hw_steps_plan;
HW_CHECK hw_status hw_steps_plan_make(hw_job *job, const hw_advise_request *request,
                                      const hw_steps_seen *seen, size_t seen_count,
                                      const hw_limits *limits, hw_steps_plan **out, hw_error *err);
void hw_steps_plan_free(hw_steps_plan *plan);
hw_day hw_steps_plan_take_day(hw_steps_plan *plan); // free with hw_day_free
const hw_shelf *hw_steps_plan_shelf(const hw_steps_plan *plan);
const hw_job *hw_steps_plan_job(const hw_steps_plan *plan);
// *rests_on NULL: the log alone forbids advice. False: there is no such repair. Not after its day was taken.
bool hw_steps_plan_for(const hw_steps_plan *plan, const char *patch, const hw_advice **advice,
                       const hw_tone_request **rests_on);

// The way of a repair under these layers (none: those of the advice, up to its plan's end). HW_ERR_CALL path-none where
// the log or the advice says that nothing is to be laid, with its reason. Free with hw_path_free.
HW_CHECK hw_status hw_steps_path(const hw_steps_plan *plan, const char *patch,
                                 const hw_layer *layers, size_t count, hw_path *out, hw_error *err);
// Where nothing is to be laid (`why` says it, no full stop): the way so far and the look as it is, by what that photo
// reads. Free with hw_path_free.
HW_CHECK hw_status hw_steps_way(const hw_job *job, long photo, const hw_comparison *gap,
                                const char *why, hw_path *out, hw_error *err);
// A repair with as much around it as shows the old wood that it must match.
hw_frame hw_steps_frame_around(const hw_mark *mark, const hw_photo_facts *facts);
// The mark of a repair grown to its joint, in what the photo shows of it. Free with hw_mark_free.
HW_CHECK hw_status hw_steps_reach(const hw_picture *around, const hw_mark *mark, hw_mark *out,
                                  hw_error *err);
// Its looks: `around` is what the photo shows of the repair and its surround. *path is taken over, also on failure. Free
// with hw_looks_free.
HW_CHECK hw_status hw_steps_looks(const hw_picture *around, const hw_mark *mark, hw_path *path,
                                  hw_looks *out, hw_error *err);

// The longest joint of a repair, laid straight. *seam is a copy; free *out with hw_shown_free. HW_ERR_CALL seam-none.
HW_CHECK hw_status hw_steps_strip(const hw_steps_seen *seen, const char *patch, hw_seam *seam,
                                  hw_shown *out, hw_error *err);
// The view of that photo, seen already, before and after; pictures only where there are two photos. Free with
// hw_before_after_free.
HW_CHECK hw_status hw_steps_before_after(const hw_job *job, const hw_event *last,
                                         const hw_steps_seen *seen, size_t longer_px,
                                         const hw_progress *progress, const hw_limits *limits,
                                         hw_before_after *out, hw_error *err);
// The latest photo of the view of that photo, from the same side and under the lamp that the view is judged by.
const hw_event *hw_steps_last_of_view(const hw_job *job, const hw_event *photo);

// Fills dyes and forecasts of a pass that is about to be logged. Free pass->forecast with hw_free.
HW_CHECK hw_status hw_steps_forecast(const hw_job *job, const hw_shelf *shelf, hw_pass_event *pass,
                                     hw_error *err);

// The same for a pass that is event `number` of the log already: what lay there before it, without itself.
HW_CHECK hw_status hw_steps_forecast_again(const hw_job *job, const hw_shelf *shelf, long number,
                                           hw_pass_event *pass, hw_error *err);

// The job's own copy of dyes in that event, a pass or a jar; none in others.
const hw_used_dye *hw_steps_dyes_in(const hw_event *event, size_t *count);
// A dye as the job's log has it, for a shelf that has none of its name.
hw_dye hw_steps_dye_of_log(const hw_used_dye *used);
// Was it taken off this shelf, with what was seen of it?
bool hw_steps_is_forgotten(const hw_shelf *shelf, const char *dye);

// The job's own copy of the dyes of a liquid; returns how many are known.
size_t hw_steps_used_dyes(const hw_shelf *shelf, const hw_known *known, const hw_liquid *liquid,
                          hw_used_dye out[HW_LIQUID_DYES_MAX]);

// Fills those of a jar that is about to be logged.
HW_CHECK hw_status hw_steps_jar_dyes(const hw_job *job, const hw_shelf *shelf, hw_jar_event *jar,
                                     hw_error *err);

// What the clear coats still to come mean for a patch.
typedef struct hw_steps_coats {
    bool to_come;         // on it or on its old wood: `ahead` is filled
    hw_coats_ahead ahead; // the look once they lie on it
    bool aimed;           // they do not go over both alike: `gap` is to another aim
    hw_comparison gap;    // to plan for: as read, or to what the patch must be before the coats
    hw_lab old_wood;      // as read
    char assumed[480];    // what is taken for granted of the coats that lie there, sentences; ""
} hw_steps_coats;

// What is believed of the clear coats, the same for all patches of a job: learned at the first that coats still come on.
typedef struct hw_steps_belief {
    bool learned;
    hw_coat_belief coats;
} hw_steps_belief;

// `photo`: the photo event (or readings of an instrument) that `gap`, of a patch with all of its old wood, was read
// from. `shelf`: as hw_steps_learn gives it for this job. `belief`: empty, or as an earlier call for both left it.
void hw_steps_coats_of(const hw_job *job, const hw_shelf *shelf, hw_steps_belief *belief,
                       const hw_event *photo, const hw_comparison *gap, hw_steps_coats *out);

// Is any old wood marked that the patch is judged by?
bool hw_steps_has_beside(const hw_marks *marks, const hw_mark *patch);

// What stands beside the advice on one repair; `coats` NULL: no photo was read for it.
void hw_steps_fill_part(const hw_job *job, const hw_shelf *shelf, const hw_advice *advice,
                        const hw_steps_coats *coats, hw_day_part *part);
// The jars of a day whose parts and sheet are filled. wanted_ml 0: what the passes take.
HW_CHECK hw_status hw_steps_fill_jars(const hw_job *job, const hw_shelf *shelf, double wanted_ml,
                                      hw_day *day, hw_error *err);
void hw_steps_fill_unsaid(const hw_job *job, hw_day *day);

// The shelf file of a request to change it: `shelf_path` or the user's own.
HW_CHECK hw_status hw_steps_shelf_path(const char *shelf_path, char *out, size_t size,
                                       hw_error *err);
// Refuses a name that a dye of this family cannot have.
HW_CHECK hw_status hw_steps_check_dye(const char *name, hw_family family, hw_error *err);
HW_CHECK hw_status hw_steps_family(const char *name, const char *dye, hw_family *out,
                                   hw_error *err);
// A tool or a note as it was typed, or NULL; then the dye's own stays.
HW_CHECK hw_status hw_steps_say_more(const char *tool, const char *note, hw_dye *dye,
                                     hw_error *err);
// How its liquid of strength 1 was made, as it was typed, or NULL; then the dye's own stays.
HW_CHECK hw_status hw_steps_say_made(const char *made, hw_dye *dye, hw_error *err);
// There is no such dye: names those of the shelf and the families.
hw_status hw_steps_refuse_dye(const char *dye, const hw_shelf *shelf, hw_error *err);

// "lid strip, left door, right door": names for a message. cut at size.
void hw_steps_add_name(char *list, size_t size, const char *name);

#endif
