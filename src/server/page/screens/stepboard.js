// stepboard.js: a photo of strips with 0, 1, 2 … passes teaches the shelf a dye: choose it (#/stepboard), then name its dyes and
// mark its strips (#/stepboard/ID).

import { at, get, post } from "../api.js";
import { button, el, field, fill, go, trouble } from "../dom.js";
import { missing, textInput } from "../forms.js";
import { timeWords } from "../work.js";
import * as store from "../store.js";
import * as queue from "../viewer/queue.js";
import { Viewer } from "../viewer/viewer.js";

const DYES_MOST = 4;
const PASSES_MOST = 4;

// ---- Choosing the photo ----------------------------------------------------------------

function sending(page, item) {
    const words = el("p", { class: "strong", role: "status" });
    const bar = el("progress", { max: 1, "aria-label": "Sent" });
    const draw = () => {
        words.textContent = `${item.name}: ${queue.words(item)}`;
        bar.value = item.share || 0;
        if (item.state === "sent") location.replace(`#/${at("stepboard", item.upload)}`);
        if (item.state === "refused") fill(page.root, trouble(item.trouble), chooser(page));
    };
    queue.changes.addEventListener("change", draw, { signal: page.signal });
    draw();
    return [words, bar];
}

function chooser(page) {
    const input = el("input", { type: "file", accept: "image/*,.heic,.dng,.cr2,.nef,.arw" });
    input.addEventListener("change", async () => {
        if (!input.files.length) return;
        const item = await queue.add(input.files[0], { view: "step board" });
        page.root.append(...sending(page, item));
    });
    return field("Photo of the board", input);
}

async function choose(page) {
    page.title("Photograph a step board");
    const { uploads } = await get("uploads", page.signal).catch(() => ({ uploads: [] })); // a board can be chosen without a link, too
    const waiting = uploads.filter((upload) => !upload.job);
    page.root.append(
        el(
            "ol",
            {},
            el(
                "li",
                {},
                "Seal scrap of the same wood. Lay strips of one dye, as strong as you lay it: none, 1, 2, 3 and 4 passes. A row for each dye.",
            ),
            el("li", {}, "Let it dry. Lay the grey card beside the strips."),
            el("li", {}, "Photograph it square on, under one lamp, without shine."),
        ),
        chooser(page),
        waiting.length
            ? el(
                  "section",
                  {},
                  el("h2", {}, "Sent, and not marked yet"),
                  el(
                      "ul",
                      {},
                      waiting.map((upload) =>
                          el(
                              "li",
                              {},
                              el("a", { href: `#/${at("stepboard", upload.upload)}` }, upload.name || "a photo"),
                              `, ${timeWords(upload.at)}`,
                          ),
                      ),
                  ),
              )
            : "",
    );
}

// ---- Its dyes ------------------------------------------------------------------------

// Rows of a name and a family; `list()` gives those with a name.
function dyeRows(families, known, changed) {
    const rows = [];
    const box = el("div", {});
    const add = (one = {}) => {
        const n = rows.length + 1;
        const name = textInput(`dye ${n}`, { value: one.name || "", maxlength: 60, on: { change: changed } });
        const family = el(
            "select",
            { name: `family ${n}`, on: { change: changed } },
            families.map((f) => el("option", { value: f }, f)),
        );
        if (one.family) family.value = one.family;
        rows.push({ name, family });
        box.append(
            el(
                "div",
                { class: "pair" },
                field(n === 1 ? "Dye" : `Dye ${n}`, name, n === 1 ? "As it stands on the bottle." : ""),
                field("It looks most like", family),
            ),
        );
    };
    known.forEach(add);
    if (!rows.length) add();
    const more = button("Another dye on this board", () => {
        if (rows.length < DYES_MOST) add();
        more.hidden = rows.length >= DYES_MOST;
    });
    return {
        box: [box, more],
        first: () => rows[0].name,
        list: () =>
            rows.filter((r) => r.name.value.trim()).map((r) => ({ name: r.name.value.trim(), family: r.family.value })),
    };
}

// Names of the strips, in the order in which they usually lie: "walnut 0", "walnut 1" …
function stripNames(dyes) {
    return dyes.flatMap((dye) => Array.from({ length: PASSES_MOST + 1 }, (_, n) => `${dye.name} ${n}`));
}

const ROLES = [
    { role: "board_strip", words: "Strip", how: "Drag across a strip" },
    { role: "card", words: "Grey card", how: "Drag across the grey card, a little inside its edge" },
    { role: "neutral", name: "white", words: "White step", how: "Drag across the white step", more: true },
    { role: "neutral", name: "black", words: "Black step", how: "Drag across the black step", more: true },
];

// Strip after strip is drawn without a tap between them, until all that a board usually has are there.
function drawOn(viewer, rows) {
    const strips = () => viewer.marks.list.filter((mark) => mark.role === "board_strip").length;
    let before = strips();
    viewer.addEventListener("rest", () => {
        const now = strips();
        const next = stripNames(rows.list()).find((name) => !viewer.marks.named(name));
        if (now > before && next)
            queueMicrotask(() => viewer.startDrawing({ ...ROLES[0], how: `Now ${next}: drag across it` })); // once this one is chosen
        before = now;
    });
}

// ---- Marking it ------------------------------------------------------------------------

function learned(page, answer) {
    page.title("What the board taught");
    fill(
        page.root,
        answer.boards.map((board) => {
            const odd = board.strips.filter((strip) => !strip.in_line);
            return el(
                "section",
                { class: "sheet" },
                el("h2", {}, board.dye),
                el(
                    "p",
                    { class: "strong" },
                    board.change === "added" ? "It is on the shelf now." : "What the shelf knew of it is renewed.",
                ),
                el("p", {}, `By ${board.strips.length} strips, up to ${board.board_passes} passes.`),
                odd.length
                    ? [
                          el("p", { class: "strong" }, "Out of line with the others:"),
                          el(
                              "ul",
                              {},
                              odd.map((s) =>
                                  el("li", {}, `${s.passes} passes: ${s.why || "a lap, or a pass forgotten?"}`),
                              ),
                          ),
                      ]
                    : el("p", {}, "All strips are in line with each other."),
            );
        }),
        (answer.warnings || []).map((w) => el("p", {}, typeof w === "string" ? w : w.text || "")),
        go("To the shelf", "#/shelf", "main"),
    );
    document.getElementById("head").focus();
}

// What is said of the board beside its strips.
function boardFields(tools) {
    const tool = el(
        "select",
        { name: "tool" },
        tools.map((t) => el("option", { value: t }, t)),
    );
    const made = textInput("made");
    const note = textInput("note");
    const told = (name, input) => (input.value.trim() ? { [name]: input.value.trim() } : {});
    return {
        box: [
            field("Laid by", tool),
            field("How full strength is made", made, "15 drops in 4 fl oz, or 0.5 %. May be left empty."),
            field("Note", note),
        ],
        body: () => ({ tool: tool.value, ...told("made", made), ...told("note", note) }),
    };
}

async function teach(page, upload, viewer, rows, fields) {
    if (!rows.list().length) return missing(rows.first(), "Name the dye first.");
    try {
        const dyes = rows.list().map((dye) => `${dye.name}=${dye.family}`);
        const body = { marks: viewer.marks.plain(), dyes, ...fields.body() };
        const answer = await post(at("uploads", upload, "stepboard"), body);
        await store.drop("marks", upload).catch(() => {});
        const here = queue.ofUpload(upload);
        if (here) await queue.kept(here);
        learned(page, answer);
        return true;
    } catch (error) {
        if (error.subject) viewer.blame(error.subject);
        page.trouble(error);
        return false;
    }
}

const STRIPS =
    "Draw each strip, a little inside its edges. Each is named by its dye and its passes: walnut 0, walnut 1. " +
    "Under a clear coat: walnut 2 coated.";

async function mark(page, upload) {
    page.way("Step boards", "#/stepboard");
    const [opened, shelf, draft] = await Promise.all([
        get(at("uploads", upload), page.signal),
        get("shelf", page.signal),
        store.get("marks", upload).catch(() => null),
    ]);
    const keep = () => store.put("marks", upload, { dyes: rows.list(), marks: viewer.marks.plain() }).catch(() => {});
    const rows = dyeRows(shelf.families || [], draft?.dyes || [], keep);
    const fields = boardFields(shelf.tools || []);
    const viewer = new Viewer({
        signal: page.signal,
        roles: ROLES,
        label: "Photo of the step board",
        names: (role) => (role === "board_strip" ? stripNames(rows.list()) : []),
    });
    const press = button("Teach it to the shelf", () => teach(page, upload, viewer, rows, fields), "main");
    const left = [el("h2", { class: "first" }, "Its dyes"), rows.box, el("h2", {}, "Its strips"), el("p", {}, STRIPS)];
    page.root.append(
        el("div", { class: "two" }, el("div", {}, left, viewer.root), el("div", {}, viewer.list, fields.box, press)),
    );
    await viewer.start();
    await viewer.show(`/api/${at("uploads", upload, "picture")}`, opened.photo, "Photo of the step board");
    viewer.setMarks(draft?.marks || opened.marks.filter((m) => ["card", "neutral"].includes(m.role)));
    viewer.addEventListener("rest", keep);
    drawOn(viewer, rows);
}

export default async function show(page) {
    await queue.start?.();
    await (page.names.upload ? mark(page, page.names.upload) : choose(page));
}
