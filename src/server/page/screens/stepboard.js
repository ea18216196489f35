// stepboard.js: a photo of strips with 0, 1, 2 … passes teaches the shelf a dye: choose it (#/stepboard), then name its dyes and
// mark its strips (#/stepboard/ID).

import { at, get } from "../api.js";
import { button, el, field, fill, go, trouble } from "../dom.js";
import { missing, textInput } from "../forms.js";
import { timeWords } from "../work.js";
import * as outbox from "../outbox.js";
import * as store from "../store.js";
import * as queue from "../viewer/queue.js";
import { Viewer } from "../viewer/viewer.js";

const DYES_MOST = 4;
const PASSES_MOST = 4;
const BOARD = "step board"; // the view under which such a photo is sent up

const addressOf = (upload) => at("uploads", upload, "stepboard");

// What a board taught stays to be read for whoever comes back to its address; its photo and its marks are needed no more.
outbox.outbox.addEventListener("sent", async ({ detail }) => {
    const [, upload] = detail.item.address.match(/^uploads\/([^/]+)\/stepboard$/) || [];
    if (!upload) return;
    await store.put("seen", addressOf(upload), { answer: detail.answer, at: Date.now() }).catch(() => {});
    await store.drop("marks", upload).catch(() => {});
    await queue.start();
    const here = queue.ofUpload(upload);
    if (here) await queue.kept(here);
});

const waits = (upload) => outbox.waiting().find((item) => item.address === addressOf(upload));

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
        const item = await queue.add(input.files[0], { view: BOARD });
        page.root.append(...sending(page, item));
    });
    return field("Photo of the board", input);
}

async function choose(page) {
    page.title("Photograph a step board");
    const sent = queue.all().filter((item) => item.view === BOARD && !item.job && item.state === "sent");
    const answer = await get("uploads", page.signal).catch(() => null); // a board can be chosen without a link, too
    const uploads = answer?.uploads || [];
    const waiting = uploads.filter((upload) => !upload.job);
    const there = (item) => uploads.some((upload) => upload.upload === item.upload);
    for (const item of answer ? sent : []) if (!there(item)) await queue.kept(item); // taught while another screen stood
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
        const name = textInput(`dye ${n}`, { value: one.name || "", maxlength: 60, on: { input: changed } });
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
        answer.again
            ? el("p", { role: "status" }, "It had arrived before, only the answer was lost: it was put on the shelf once.")
            : null,
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

// What is said of the board beside its strips; `said`: as it was said before.
function boardFields(tools, said, changed) {
    const on = { input: changed };
    const tool = el(
        "select",
        { name: "tool", on },
        tools.map((t) => el("option", { value: t }, t)),
    );
    if (tools.includes(said.tool)) tool.value = said.tool;
    const made = textInput("made", { value: said.made || "", on });
    const note = textInput("note", { value: said.note || "", on });
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

// Its entry is made up once, so that a board whose answer was lost is taught once however often it is sent.
async function teach(page, board) {
    const { rows, viewer, fields, draft } = board;
    if (!rows.list().length) return missing(rows.first(), "Name the dye first.");
    draft.entry = draft.entry || store.newId();
    const dyes = rows.list().map((dye) => `${dye.name}=${dye.family}`);
    draft.sent = { entry: draft.entry, marks: viewer.marks.plain(), dyes, ...fields.body() };
    await board.keep();
    return send(page, board);
}

// What was learned is shown by whoever hears that it was sent, now or later.
async function send(page, { upload, viewer, draft: { sent } }) {
    const names = sent.dyes.map((dye) => dye.slice(0, dye.lastIndexOf("=")));
    try {
        await outbox.log(addressOf(upload), sent, `the step board of ${names.join(", ")}`, "", { shown: true });
    } catch (error) {
        if (error.subject) viewer?.blame(error.subject);
        page.trouble(error);
    }
}

// The one thing to do here; while it is on its way, that it is, so that it is not taught under two entries.
function pressOrWait(page, board) {
    const press = button("Teach it to the shelf", () => teach(page, board), "main");
    const place = el("div", {});
    const draw = () => {
        const item = waits(board.upload);
        const words = item?.state === "waiting" ? WAITS : REFUSED;
        fill(place, item ? el("p", { class: "strong", role: "status" }, words) : press);
    };
    outbox.outbox.addEventListener("change", draw, { signal: page.signal });
    draw();
    return place;
}

const WAITS =
    "No answer yet. The board is kept on this device as it was marked, and goes out again by itself. It is learned from once.";
const REFUSED = "It was not put on the shelf: why, stands at the top. Drop it there to mark it anew.";

const STRIPS =
    "Draw each strip, a little inside its edges. Each is named by its dye and its passes: walnut 0, walnut 1. " +
    "Under a clear coat: walnut 2 coated.";

// The program has its photo no more: it has learned from it, and the answer was lost, or was read before.
async function gone(page, board, error) {
    const before = await store.get("seen", addressOf(board.upload)).catch(() => null);
    if (before) return learned(page, before.answer);
    if (!waits(board.upload) && !board.draft.sent) throw error;
    page.title("The board is on its way");
    fill(page.root, el("p", { class: "strong", role: "status" }, WAITS));
    if (!waits(board.upload)) await send(page, board);
}

async function mark(page, upload) {
    page.way("Step boards", "#/stepboard");
    const board = { upload, draft: (await store.get("marks", upload).catch(() => null)) || {} };
    outbox.outbox.addEventListener(
        "sent",
        ({ detail }) => {
            if (detail.item.address !== addressOf(upload)) return;
            board.learned = true;
            learned(page, detail.answer);
        },
        { signal: page.signal },
    );
    try {
        const [opened, shelf] = await Promise.all([get(at("uploads", upload), page.signal), get("shelf", page.signal)]);
        if (!board.learned) await draw(page, board, opened, shelf);
    } catch (error) {
        if (error.code !== "not-found") throw error;
        if (!board.learned) await gone(page, board, error);
    }
}

async function draw(page, board, opened, shelf) {
    const { upload, draft } = board;
    const { keep } = Object.assign(board, {
        keep: () => {
            Object.assign(draft, { dyes: rows.list(), said: fields.body() });
            if (board.marked) draft.marks = viewer.marks.plain(); // before that it still has none to show
            return board.learned ? null : store.put("marks", upload, draft).catch(() => {});
        },
    });
    const rows = dyeRows(shelf.families || [], draft.dyes || [], keep);
    const fields = boardFields(shelf.tools || [], draft.said || {}, keep);
    const viewer = new Viewer({
        signal: page.signal,
        roles: ROLES,
        label: "Photo of the step board",
        names: (role) => (role === "board_strip" ? stripNames(rows.list()) : []),
    });
    Object.assign(board, { rows, fields, viewer });
    const left = [el("h2", { class: "first" }, "Its dyes"), rows.box, el("h2", {}, "Its strips"), el("p", {}, STRIPS)];
    const press = el("div", {});
    const right = [viewer.list, fields.box, press];
    page.root.append(el("div", { class: "two" }, el("div", {}, left, viewer.root), el("div", {}, right)));
    await viewer.start();
    await viewer.show(`/api/${at("uploads", upload, "picture")}`, opened.photo, "Photo of the step board");
    viewer.setMarks(draft.marks || opened.marks.filter((m) => ["card", "neutral"].includes(m.role)));
    board.marked = true;
    fill(press, pressOrWait(page, board));
    viewer.addEventListener("rest", keep);
    drawOn(viewer, rows);
}

export default async function show(page) {
    await queue.start?.();
    await (page.names.upload ? mark(page, page.names.upload) : choose(page));
}
