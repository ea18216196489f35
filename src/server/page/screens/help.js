// help.js: how to photograph, and the keys. Short: what is read at the bench.

import { el, go } from "../dom.js";

const PHOTOGRAPH = [
    "Lay a grey card in the plane of the work, right beside the repair, in every picture. White and black steps or a colour chart beside it tell more.",
    "One kind of light, from the side at about 45 degrees. No flash, no shine on wood or card.",
    "Square on, from a metre or more. Exposure and white balance locked.",
    "Wood dry. Repair and old wood in the same state: both sealed, or both finished.",
    "Same lamp, same place, same camera for every photo of a job. That does more than anything else.",
    "Of one state better take three photos, the card lifted and laid down again between them. Choose all three at once and tick the other two: they are read as one.",
];
const WAY = [
    "Photograph the piece. Mark the repair, old wood around it, and the grey card, where they were not found by themselves.",
    "Read the verdict. Ask what to lay next: it is on the light side on purpose, as dye goes on and does not come off.",
    "Lay it, tap “Laid it”, let it dry. The clock says when.",
    "Photograph it again, and ask again. Stop when it says so.",
];
const KEYS = [
    ["Tab", "goes on to the next thing, Shift and Tab goes back"],
    ["Enter", "presses what has the thick line around it"],
    ["+ and −", "on a photo: nearer and farther; 0 shows all of it"],
    ["N", "on a photo: the next mark; C its next corner"],
    ["Arrow keys", "move the chosen mark or corner by one pixel, with Shift by ten; with none chosen, the photo"],
    ["Delete", "removes the chosen mark or corner"],
    ["Ctrl and Z", "takes the last change of marks back"],
    ["Escape", "lets go of what is chosen"],
];

export default async function show(page) {
    page.title("How to photograph");
    page.root.append(
        el(
            "ol",
            {},
            PHOTOGRAPH.map((line) => el("li", {}, line)),
        ),
        el("h2", {}, "The way of a repair"),
        el(
            "ol",
            {},
            WAY.map((line) => el("li", {}, line)),
        ),
        el("h2", {}, "Keys"),
        el(
            "dl",
            { class: "keys" },
            KEYS.map(([key, what]) => [el("dt", {}, key), el("dd", {}, what)]),
        ),
        el("h2", {}, "What it keeps"),
        el(
            "p",
            {},
            "All stays on the computer that runs the program. This page asks for nothing outside. What you log without a link is kept on this device and goes out by itself.",
        ),
        go("To the jobs", "#/", "main"),
    );
}
