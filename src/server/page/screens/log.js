// log.js: whatever else happened: a pass laid otherwise, a coat, something taken off, a jar, a note, an approval; and what
// holds for the whole job. Each has its own address: #/job/J/log?what=coat.

import { at } from "../api.js";
import { choices, el, field, go, tell, ticked, ticks } from "../dom.js";
import { form, liquidFields, missing, numberIn, numberInput, textInput } from "../forms.js";
import { attend, log } from "../outbox.js";
import { settingBody, settingFields, settingRows } from "../settings.js";
import { dyeNames, jobAddress, liquidWords, listed, loadJob, passesWords, repairsOf } from "../work.js";

const namesOf = (parts) =>
    parts.map((part) => [part.name, part.role === "target" ? `${part.name} (old wood)` : part.name]);

// Logs and goes back to the bench, where the bar tells what was logged and undoes it.
async function send(page, state, what, body, words) {
    try {
        const result = await log(
            at("jobs", page.names.job, what),
            { ...body, seen: state.last },
            words,
            page.names.job,
        );
        tell(result.waiting ? `Kept on this device, not sent yet: ${words}.` : `Logged: ${words}.`);
        if (!page.signal.aborted) location.hash = jobAddress(page.names.job); // else somebody went elsewhere meanwhile
        return true;
    } catch (error) {
        if (error.code === "moved-on") attend();
        else page.trouble(error);
        return error.code === "moved-on";
    }
}

const noteOf = (note) => (note.value.trim() ? { note: note.value.trim() } : {});

function firstOf(fieldset, id) {
    const input = fieldset.querySelector("input");
    input.id = input.id || id;
    return input;
}

// ---- What was done -------------------------------------------------------------------

function whichLiquid(state, dyes) {
    const fields = liquidFields(dyes);
    const jars = [
        ...state.jars
            .filter((j) => !j.empty)
            .map((j) => [String(j.jar), `Jar ${j.jar}: ${j.words || liquidWords(j.liquid)}`]),
        ["", "Another liquid"],
    ];
    const jar = choices("Out of", "jar", jars, jars[0][0]);
    const chosen = () => ticked(jar)[0];
    const other = el("div", {}, fields.box);
    const turn = () => {
        other.hidden = Boolean(chosen());
    };
    for (const input of jar.querySelectorAll("input"))
        for (const event of ["change", "restored"]) input.addEventListener(event, turn);
    turn();
    return {
        box: [state.jars.length ? jar : null, other],
        body: () => (chosen() ? { jar: Number(chosen()) } : { liquid: fields.liquid() }),
        words: () => (chosen() ? `jar ${chosen()}` : liquidWords(fields.liquid())),
    };
}

async function pass(page, state) {
    const liquid = whichLiquid(state, await dyeNames(page.signal));
    const on = ticks(
        "Laid on",
        "patches",
        namesOf(repairsOf(state)),
        repairsOf(state).length === 1 ? [repairsOf(state)[0].name] : [],
    );
    const passes = numberInput("passes", { value: "1" });
    const minutes = numberInput("minutes"),
        hours = numberInput("hours"),
        note = textInput("note");
    return form(
        location.hash,
        [
            on,
            liquid.box,
            field("Passes", passes),
            field("It has dried for, in minutes", minutes, "May be left empty."),
            field("Hours of work", hours, "May be left empty."),
            field("Note", note),
        ],
        "Log it",
        () => {
            const patches = ticked(on);
            if (!patches.length) return missing(firstOf(on, "on-first"), "On which repair? Tick one at least.");
            if (!Number.isInteger(numberIn(passes)) || numberIn(passes) < 1)
                return missing(passes, "How many passes? A whole number, as 1.");
            return send(
                page,
                state,
                "passes",
                {
                    patches,
                    ...liquid.body(),
                    passes: numberIn(passes),
                    ...(numberIn(minutes) >= 0 ? { minutes: numberIn(minutes) } : {}),
                    ...(numberIn(hours) > 0 ? { hours: numberIn(hours) } : {}),
                    ...noteOf(note),
                },
                `${passesWords(numberIn(passes))} of ${liquid.words()} on ${listed(patches)}`,
            );
        },
    );
}

async function coat(page, state) {
    const kind = choices(
        "Which coat?",
        "kind",
        [
            ["sealer", "Sealer: thin first coat that locks the colour"],
            ["barrier", "Barrier coat, between colours"],
            ["clear", "Clear coat"],
        ],
        "sealer",
    );
    const parts = ticks("Only on (none ticked: on the whole piece)", "parts", namesOf(state.parts));
    const note = textInput("note");
    return form(location.hash, [kind, parts, field("Note", note)], "Log the coat", () => {
        const on = ticked(parts);
        return send(
            page,
            state,
            "coats",
            { kind: ticked(kind)[0], ...(on.length ? { parts: on } : {}), ...noteOf(note) },
            `a coat of ${ticked(kind)[0]} on ${on.length ? listed(on) : "the whole piece"}`,
        );
    });
}

async function takeoff(page, state) {
    const how = choices(
        "How far?",
        "how",
        [
            ["wiped", "Toner wiped back, down to the last coat"],
            ["stripped", "Everything taken off, down to the wood"],
        ],
        "wiped",
    );
    const parts = ticks("Taken off", "parts", namesOf(state.parts));
    const note = textInput("note");
    return form(location.hash, [how, parts, field("Note", note)], "Log it", () => {
        const on = ticked(parts);
        if (!on.length) return missing(firstOf(parts, "off-first"), "From which part? Tick one at least.");
        return send(
            page,
            state,
            "takeoffs",
            { how: ticked(how)[0], parts: on, ...noteOf(note) },
            `${listed(on)} ${ticked(how)[0]}`,
        );
    });
}

async function jar(page, state) {
    const fields = liquidFields(await dyeNames(page.signal));
    const volume = numberInput("volume"),
        note = textInput("note");
    return form(
        location.hash,
        [
            fields.box,
            field("How much, in millilitres", volume, "May be left empty; with it the log tells how to mix it."),
            field("Note", note),
        ],
        "Give it a number",
        () =>
            send(
                page,
                state,
                "jars",
                {
                    liquid: fields.liquid(),
                    ...(numberIn(volume) > 0 ? { volume_ml: numberIn(volume) } : {}),
                    ...noteOf(note),
                },
                `a jar of ${liquidWords(fields.liquid())}`,
            ),
    );
}

// ---- What was said -------------------------------------------------------------------

async function note(page, state) {
    const words = el("textarea", { name: "text", maxlength: 2000, rows: 4 });
    const part = el(
        "select",
        { name: "part" },
        el("option", { value: "" }, "the whole piece"),
        state.parts.map((p) => el("option", { value: p.name }, p.name)),
    );
    const hours = numberInput("hours");
    return form(
        location.hash,
        [field("Note", words), field("About", part), field("Hours of work", hours, "May be left empty.")],
        "Log the note",
        () => {
            if (!words.value.trim()) return missing(words, "Write the note first.");
            return send(
                page,
                state,
                "notes",
                {
                    text: words.value.trim(),
                    ...(part.value ? { part: part.value } : {}),
                    ...(numberIn(hours) > 0 ? { hours: numberIn(hours) } : {}),
                },
                "a note",
            );
        },
    );
}

async function approval(page, state) {
    const by = textInput("by", { maxlength: 80 }),
        lamp = textInput("lamp", { maxlength: 80 }),
        words = textInput("note");
    return form(
        location.hash,
        [
            field("Who found the colour right?", by, "Customer, or a name."),
            field("Under which lamp?", lamp, "Living room, north window."),
            field("Note", words),
        ],
        "Log the approval",
        () => {
            if (!by.value.trim()) return missing(by, "Say who looked at it.");
            if (!lamp.value.trim()) return missing(lamp, "Say under which lamp it was looked at.");
            return send(
                page,
                state,
                "approvals",
                { by: by.value.trim(), lamp: lamp.value.trim(), ...noteOf(words) },
                `approved by ${by.value.trim()}`,
            );
        },
    );
}

// ---- What holds for the whole job ----------------------------------------------------

async function settings(page, state) {
    const fields = settingFields(state);
    return form(`settings ${page.names.job}`, settingRows(fields), "Save", () => {
        const body = settingBody(fields);
        return body && send(page, state, "settings", body, "what holds for the whole job");
    });
}

async function rename(page, state) {
    const was = el(
        "select",
        { name: "was" },
        state.parts.map((p) => el("option", { value: p.name }, p.name)),
    );
    const part = textInput("part", { maxlength: 80 });
    return form(location.hash, [field("Part", was), field("New name", part)], "Give it that name", () =>
        part.value.trim()
            ? send(
                  page,
                  state,
                  "rename",
                  { was: was.value, part: part.value.trim() },
                  `${was.value} is now ${part.value.trim()}`,
              )
            : missing(part, "Write the new name."),
    );
}

const KINDS = {
    pass: ["A pass", "Laid beside what was advised", pass, true],
    coat: ["A coat of finish", "Sealer, barrier coat, clear coat", coat, true],
    takeoff: ["Something taken off", "Wiped back or stripped", takeoff, true],
    jar: ["A jar mixed", "Gives it a number", jar, false],
    note: ["A note", "Or hours of work", note, false],
    approval: ["An approval", "Who found the colour right, under which lamp", approval, false],
    settings: ["For the whole job", "Coats to come, recoat time, card size, areas", settings, false],
    rename: ["Another name for a part", "", rename, true],
};

export default async function show(page) {
    page.editing = true;
    const state = await loadJob(page);
    const chosen = KINDS[page.query.get("what")];
    page.onChange(() => {}); // what is half written stays; whether it still fits is asked when it is logged
    if (chosen && chosen[3] && !state.parts.length) {
        page.title(chosen[0], state.title);
        page.root.append(
            el("p", { class: "none" }, "No part is named yet. Photograph the piece and mark its repair first."),
            go("Photograph", jobAddress(page.names.job, "new"), "main"),
        );
    } else if (chosen) {
        page.title(chosen[0], state.title);
        page.way("Log something else", jobAddress(page.names.job, "log"));
        page.root.append(await chosen[2](page, state));
    } else {
        page.title("Log something else", state.title);
        page.root.append(
            el(
                "ul",
                { class: "cards" },
                Object.entries(KINDS).map(([what, [name, more]]) =>
                    el(
                        "li",
                        {},
                        el(
                            "a",
                            { class: "card", href: `${jobAddress(page.names.job, "log")}?what=${what}` },
                            el("span", { class: "card-name" }, name),
                            more ? el("span", {}, more) : null,
                        ),
                    ),
                ),
            ),
        );
    }
}
