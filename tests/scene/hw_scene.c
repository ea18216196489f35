// hw_scene.c: renders a scene by name.
//
//   hw_scene SCENE FOLDER [--name NAME] [--dye FAMILY=STRENGTHxPASSES ...] [--shop-strength F]
//            [--exposure F] [--noise-seed N] [--quality Q] [--lamp KELVIN|led|tube]
//            [--held DEGREES,NEARER,RIGHT,DOWN]
//   hw_scene --list
//
// --held: as from a hand that stands askew and elsewhere (pixels); the photo alone is written. --lamp: a lamp other than the scene's; daylight from 4000 K, a glowing body below. --dye lays dye on every patch; --shop-strength says how strong this shop's passes really are.
#include "scene.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int use(void)
{
    fprintf(stderr, "use: hw_scene SCENE FOLDER [--name NAME] [--dye FAMILY=STRENGTHxPASSES ...]\n"
                    "     [--shop-strength F] [--exposure F] [--noise-seed N] [--quality Q]\n"
                    "     [--lamp KELVIN|led|tube] [--held DEGREES,NEARER,RIGHT,DOWN],\n"
                    "     or hw_scene --list\n");
    return 2;
}

static bool parse_dye(char *text, scene_layer *out)
{
    double strength, passes;
    hw_spectrum unused;
    char *equals = strchr(text, '=');
    if (!equals || sscanf(equals + 1, "%lfx%lf", &strength, &passes) != 2) {
        return false;
    }
    *equals = 0;
    *out = (scene_layer){text, strength * passes, NULL};
    return scene_dye(text, &unused);
}

static hw_spectrum lamp_named(const char *text)
{
    double kelvin = atof(text);
    return strcmp(text, "led") == 0    ? scene_led(0.5, 0.5)
           : strcmp(text, "tube") == 0 ? scene_tube(0.5)
           : kelvin < 4000             ? hw_planckian(kelvin)
                                       : hw_daylight(kelvin);
}

int main(int count, char **arguments)
{
    scene s;
    scene_layer layer[SCENE_LAYERS_MOST];
    size_t layers = 0;
    double shop_strength = 1.0;
    int quality = 90;
    if (count == 2 && strcmp(arguments[1], "--list") == 0) {
        for (size_t i = 0; scene_name(i); i++) {
            printf("%s\n", scene_name(i));
        }
        return 0;
    }
    if (count < 3 || count % 2 == 0 || !scene_find(arguments[1], &s)) {
        return use();
    }
    const char *name = s.name;
    for (int i = 3; i + 1 < count; i += 2) {
        char *value = arguments[i + 1];
        if (strcmp(arguments[i], "--name") == 0) {
            name = value;
        } else if (strcmp(arguments[i], "--shop-strength") == 0) {
            shop_strength = atof(value);
        } else if (strcmp(arguments[i], "--exposure") == 0) {
            s.exposure *= atof(value);
        } else if (strcmp(arguments[i], "--noise-seed") == 0) {
            s.noise_seed = (unsigned)atoi(value);
        } else if (strcmp(arguments[i], "--lamp") == 0) {
            s.lamp = lamp_named(value);
        } else if (strcmp(arguments[i], "--held") == 0) {
            double degrees, nearer, right, down;
            if (sscanf(value, "%lf,%lf,%lf,%lf", &degrees, &nearer, &right, &down) != 4) {
                return use();
            }
            scene_hold(&s, degrees * 0.017453292519943295, nearer, right, down, 3e-5);
        } else if (strcmp(arguments[i], "--quality") == 0) {
            quality = atoi(value);
        } else if (strcmp(arguments[i], "--dye") != 0 || layers == SCENE_LAYERS_MOST ||
                   !parse_dye(value, &layer[layers++])) {
            return use();
        }
    }
    for (size_t i = 0; i < s.region_count; i++) {
        bool patch = s.region[i].role && strcmp(s.region[i].role, "patch") == 0;
        for (size_t k = 0; patch && k < layers; k++) {
            s.region[i].layer[k] =
                (scene_layer){layer[k].family, shop_strength * layer[k].amount, NULL};
        }
        s.region[i].layer_count = patch ? layers : s.region[i].layer_count;
    }
    bool held = s.view[0] != 0.0;
    if (!(held ? scene_write_photo : scene_write)(&s, arguments[2], name, quality)) {
        fprintf(stderr, "hw_scene: cannot write to %s\n", arguments[2]);
        return 1;
    }
    return 0;
}
