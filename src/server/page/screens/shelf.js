// shelf.js: the dyes that the program knows: what was seen of each, and what is a guess.

import { at, getKept, post, remove } from "../api.js";
import { askingButton, el, field, go, tell } from "../dom.js";
import { form, missing, textInput } from "../forms.js";
import { timeWords } from "../work.js";

// What was seen of it, and whether that is enough.
function knowledge(dye) {
    const guess = (dye.known || dye).guess;
    const seen = [];
    if (dye.board_passes) seen.push(`By a step board with up to ${dye.board_passes} passes.`);
    if (dye.seen)
        seen.push(
            `Seen on ${dye.seen === 1 ? "1 pass" : `${dye.seen} passes`} of ${dye.seen_jobs === 1 ? "1 job" : `${dye.seen_jobs} jobs`}.`,
        );
    if (dye.questioned)
        seen.push(`${dye.questioned === 1 ? "1 pass" : `${dye.questioned} passes`} did something else than forecast.`);
    if (!seen.length) return guess ? "A guess: nothing of it was seen yet." : "Known by readings.";
    return seen.join(" ") + (guess ? " Still a guess." : "");
}

async function takeOff(page, dye) {
    try {
        await remove(at("shelf", dye.name));
        tell(`${dye.name} is off the shelf.`);
        await page.again();
    } catch (error) {
        page.trouble(error);
    }
}

function dyeSheet(page, dye) {
    const tool = !dye.tool || dye.tool === "not said" ? "a tool not said" : dye.tool;
    const made = typeof dye.made === "string" ? dye.made : dye.made?.words;
    return el(
        "section",
        { class: "sheet" },
        el("h3", {}, dye.name),
        el("p", {}, `Of the ${dye.family} family, by ${tool}.`),
        el("p", { class: "strong" }, knowledge(dye)),
        made ? el("p", {}, `Full strength: ${made}`) : null,
        dye.note ? el("p", {}, dye.note) : null,
        dye.learned_at ? el("p", { class: "small soft" }, `Since ${timeWords(dye.learned_at)}`) : null,
        askingButton(
            "Take it off the shelf",
            `Take it off the shelf: ${dye.name}`,
            `Take ${dye.name} off? What was learned of it goes too.`,
            "Take it off",
            () => takeOff(page, dye),
        ),
    );
}

function addForm(page, shelf) {
    const name = textInput("name", { maxlength: 60 });
    const family = el(
        "select",
        { name: "family" },
        (shelf.families || []).map((f) => el("option", { value: f }, f)),
    );
    const tool = el(
        "select",
        { name: "tool" },
        el("option", { value: "" }, "not said"),
        (shelf.tools || []).filter((t) => t !== "not said").map((t) => el("option", { value: t }, t)),
    );
    const made = textInput("made"),
        note = textInput("note");
    return form(
        "shelf",
        [
            field("Name", name, "As it stands on the bottle."),
            field("It looks most like", family),
            field("Laid by", tool),
            field("How full strength is made", made, "15 drops in 4 fl oz, or 0.5 %. May be left empty."),
            field("Note", note),
        ],
        "Put it on the shelf, as a guess",
        async (made_form) => {
            if (!name.value.trim()) return missing(name, "Give it a name.");
            try {
                await post("shelf", {
                    name: name.value.trim(),
                    family: family.value,
                    ...(tool.value ? { tool: tool.value } : {}),
                    ...(made.value.trim() ? { made: made.value.trim() } : {}),
                    ...(note.value.trim() ? { note: note.value.trim() } : {}),
                });
                tell(`${name.value.trim()} is on the shelf.`);
                made_form.reset();
                await page.again();
                return true;
            } catch (error) {
                page.trouble(error);
                return false;
            }
        },
    );
}

export default async function show(page) {
    page.title("Shelf of dyes");
    const shelf = await getKept("shelf", page.signal);
    const dyes = shelf.shelf?.dyes || [];
    page.root.append(
        el(
            "div",
            { class: "two" },
            el(
                "section",
                {},
                el("h2", { class: "first" }, "On the shelf"),
                dyes.length
                    ? dyes.map((dye) => dyeSheet(page, dye))
                    : el(
                          "p",
                          { class: "none" },
                          "Empty. Until it holds a dye of yours all advice rests on starting guesses for nine families of dye. Photograph a step board: it teaches a dye at once.",
                      ),
            ),
            el(
                "section",
                {},
                el("h2", { class: "first" }, "Teach it a dye"),
                el(
                    "p",
                    {},
                    "A step board tells most: strips of scrap with 0, 1, 2, 3 and 4 passes, photographed with the grey card.",
                ),
                go("Photograph a step board", "#/stepboard", "main"),
                el("h2", {}, "Or put a dye here as a guess"),
                addForm(page, shelf),
            ),
        ),
    );
}
