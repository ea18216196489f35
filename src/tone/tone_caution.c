// tone_caution.c: the cautions that go with laying toner. Reminders, each with where it comes
// from; the rules of a place and the product's own sheet always go before them. Never a promise
// that anything is harmless, never a model of respirator, never heat.
#include "tone_internal.h"

static const char *const cautions[] = {
    // 29 CFR 1910.107; Cal. 8 CCR 5449(b).
    "Solvent vapour and spray mist can catch fire. No flame, pilot light, heater or sparking tool "
    "near "
    "spraying.",
    // 29 CFR 1910.107(b)(10), (c)(6), as listed second-hand.
    "Take phone, lamps, chargers and camera out, and let the vapour clear, before spraying or "
    "after it. Do "
    "not bring ordinary lights into a spray area.",
    // 29 CFR 1910.107; NFPA 33 (from memory).
    "Spray only where the exhaust is made for it and running, and keep it running while the coat "
    "dries.",
    // 29 CFR 1910.134.
    "Clear the air first; a mask comes second. If you need a respirator it must be the right kind, "
    "fitted, "
    "and you must be fit to wear it.",
    // OSHA letter of 13 June 1996 and its isocyanate programme.
    "Isocyanate hardeners in two-part finishes can cause lasting asthma and give poor warning. "
    "Follow the "
    "sheet; supplied air may be required.",
    // OSHA, woodworking: finishing chemicals.
    "Lacquer solvents can cause headache, dizziness and long-term harm. Wear the gloves and eye "
    "protection "
    "named in the sheet.",
    // NFPA tip sheet on oily rags; 29 CFR 1926.252(e).
    "Rags wet with oil finish can heat up and burn by themselves. Never pile them. Dry flat "
    "outside, or in a "
    "lidded metal can with water, away from buildings.",
    // Museum conservation guidance on furniture coatings.
    "Old finish is part of the piece. Once removed it cannot be put back. Ask a conservator if in "
    "doubt.",
};

const char *const *hw_cautions(size_t *count)
{
    *count = sizeof cautions / sizeof *cautions;
    return cautions;
}

const char *hw_caution_lead(void)
{
    return "Reminder only. The product's safety data sheet, your local fire and building code and "
           "qualified "
           "people decide.";
}

const char *hw_caution_one_line(void)
{
    return "Reminder only, the sheet and local code decide: no flame or phone near spray, exhaust "
           "on, gloves "
           "and eye protection, rags flat or in water.";
}
