// shop.h: a small picture with a grey card and two regions, decoded as a photo.
#ifndef HUEWRIGHT_TEST_SHOP_H
#define HUEWRIGHT_TEST_SHOP_H

#include "check.h"
#include "decoded_picture.h"
#include "huewright/card.h"
#include "huewright/sample.h"
#include "picture.h"

#define SHOP_WIDTH  400
#define SHOP_HEIGHT 240

static const hw_lab shop_old = {50.0, 12.0, 25.0}, shop_new = {55.0, 9.5, 26.0};

// Grey card at 20,20 80x80; old wood at 140,20 100x200; repair at 270,20 100x200.
static inline picture shop_picture(void)
{
    picture made = picture_new(SHOP_WIDTH, SHOP_HEIGHT);
    picture_fill(&made, 0, 0, SHOP_WIDTH, SHOP_HEIGHT, (hw_lab){40, 2, 4});
    picture_fill(&made, 20, 20, 80, 80, (hw_lab){49.5, 0, 0});
    picture_fill(&made, 140, 20, 100, 200, shop_old);
    picture_fill(&made, 270, 20, 100, 200, shop_new);
    return made;
}

static inline hw_marks shop_marks(void)
{
    hw_marks marks = {0};
    bool good =
        hw_marks_add(&marks, HW_ROLE_CARD, "card", "20,20,80,80", NULL, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_TARGET, "old", "140,20,100,200", NULL, NULL) == HW_OK &&
        hw_marks_add(&marks, HW_ROLE_PATCH, "new", "270,20,100,200", NULL, NULL) == HW_OK;
    check_true(good);
    return marks;
}

static inline hw_photo *shop_photo(const picture *made)
{
    return decoded_picture(made, "shop.png");
}

#endif
