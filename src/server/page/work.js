// work.js: what the screens of one job share: how it stands, the bar with the last thing logged, clocks, pictures.

import { at, getKept, link, text } from "./api.js";
import { button, el, fill, sentence, svgPicture, tell } from "./dom.js";
import { attend, dropIt, log, waiting } from "./outbox.js";
import { sawJob } from "./watch.js";

const plural = (n, one, many) => `${n} ${n === 1 ? one : many}`;
export const passesWords = (n) => plural(n, "pass", "passes");
export const minutesWords = (n) => (n < 90 ? plural(n, "minute", "minutes") : `${Math.round(n / 6) / 10} hours`);
export const listed = (names) => names.join(", ");
export const jobAddress = (job, ...parts) => `#/${at("job", job, ...parts)}`;
export const repairsOf = (state) => state.parts.filter((part) => part.role === "patch");

const STRENGTHS = new Map([
    [1, "full strength"],
    [0.5, "half strength"],
    [0.25, "a quarter strength"],
    [0.125, "an eighth strength"],
]);

// A liquid as the log says it: "red at a quarter strength with black at half strength".
export function liquidWords(liquid) {
    return liquid
        .map(({ dye, strength }) => `${dye} at ${STRENGTHS.get(strength) || `strength ${strength}`}`)
        .join(" with ");
}

// "14:20", or "3 May, 14:20" on another day.
export function timeWords(when) {
    const date = new Date(when);
    const day = date.toDateString() === new Date().toDateString() ? {} : { day: "numeric", month: "short" };
    const year = date.getFullYear() === new Date().getFullYear() ? {} : { year: "numeric" };
    return date.toLocaleString("en-GB", { ...day, ...year, hour: "2-digit", minute: "2-digit" });
}

// The phone's clock may go wrong, the program's counts.
export function setClock(state) {
    state.clockOff = state.keptAt ? 0 : Date.parse(state.now) - Date.now();
}

// How the job stands, and the bar below it (not where it only is in the way). What is logged from this screen has seen the job as
// far as state.last.
export async function loadJob(page, { bar = true } = {}) {
    const state = await getKept(at("jobs", page.names.job), page.signal);
    setClock(state);
    sawJob(page.names.job, state);
    if (bar) drawBar(page, state);
    if (state.keptAt) asItStood(page, state.keptAt);
    return state;
}

// Said above what was kept from before; drawn anew when the link is back.
export function asItStood(page, when) {
    page.root.append(el("p", { class: "none" }, `No link: this is how it stood at ${timeWords(when)}.`));
    link.addEventListener("change", () => link.up && !page.editing && page.again(), { signal: page.signal });
}

// ---- The bar: the last thing logged, with its undo, and the clock ---------------------

function drawBar(page, state) {
    const bar = document.getElementById("bar");
    // It stays in sight while one scrolls, unless the text is so large that it would cover what it stands on.
    const pageStyle = document.documentElement.style;
    const size = new ResizeObserver(() => {
        const stays = innerHeight >= 30 * parseFloat(getComputedStyle(document.documentElement).fontSize);
        bar.classList.toggle("in-place", !stays);
        // What takes the focus below it is scrolled to where it is seen.
        pageStyle.scrollPaddingBottom = stays ? `${bar.offsetHeight + 16}px` : "";
    });
    size.observe(bar);
    page.signal.addEventListener("abort", () => {
        bar.hidden = true;
        pageStyle.scrollPaddingBottom = "";
        size.disconnect();
    });
    const clocks = longestWait(repairsOf(state));
    const unsent = waiting(page.names.job)
        .filter((item) => item.state === "waiting")
        .pop();
    bar.hidden = !unsent && !state.undo && !clocks;
    const last = unsent ? ["Not sent yet: ", unsent.words] : state.undo ? ["Logged: ", state.undo.words] : null;
    fill(
        bar,
        el(
            "div",
            { class: "bar-words" },
            last
                ? el(
                      "p",
                      { class: clocks ? "one-line" : "two-lines" },
                      el("span", { class: "strong" }, last[0]),
                      `${last[1]}.`,
                  )
                : null,
            clocks ? el("p", {}, clock(clocks, state, page.signal)) : null,
        ),
        last ? button("Undo", () => (unsent ? takeBack(page, unsent) : undo(page, state))) : null,
    );
}

async function takeBack(page, unsent) {
    await dropIt(unsent);
    await page.again();
}

export function longestWait(parts) {
    const waits = parts
        .filter((p) => p.wait)
        .map((p) => p.wait)
        .sort((a, b) => (a.until < b.until ? 1 : -1));
    return waits[0] || null;
}

async function undo(page, state) {
    try {
        await log(
            at("jobs", page.names.job, "withdraw"),
            { event: state.undo.event },
            `undo: ${state.undo.words}`,
            page.names.job,
        );
        tell(`Undone: ${state.undo.words}.`);
        await page.again();
    } catch (error) {
        page.trouble(error);
    }
}

// "Dry at about 14:20, 25 minutes", counting down while the screen stands; no sound.
export function clock(wait, state, signal) {
    const told = el("span", { class: "clock" });
    const until = Date.parse(wait.until);
    let over = null;
    const draw = () => {
        const left = Math.ceil((until - Date.now() - state.clockOff) / 60000);
        const words =
            left > 0
                ? `Dry at about ${timeWords(until - state.clockOff)}, ${minutesWords(left)}.`
                : "Dry long enough: photograph it now.";
        if (told.textContent !== words) told.textContent = words;
        if (over === false && left <= 0) tell(words);
        over = left <= 0;
    };
    draw();
    const timer = setInterval(draw, 5000);
    signal.addEventListener("abort", () => clearInterval(timer));
    return told;
}

// ---- Logging -------------------------------------------------------------------------

// Logs, says so and draws the screen anew. A refusal is shown above; true: it is logged, or kept to be sent.
export async function logAndShow(page, state, what, body, words) {
    try {
        const seen = state ? { seen: state.last } : {};
        const result = await log(at("jobs", page.names.job, what), { ...body, ...seen }, words, page.names.job);
        tell(result.waiting ? `Kept on this device, not sent yet: ${words}.` : `Logged: ${words}.`);
        await page.again();
        return true;
    } catch (error) {
        if (error.code === "moved-on") {
            await page.again(); // shows what happened meanwhile; the question stands above
            attend();
        } else page.trouble(error);
        return false;
    }
}

// ---- Pictures ------------------------------------------------------------------------

// A picture that the program draws, put in once it is there. Its words are the ones that the picture carries in itself.
export function picture(page, kind, asked, heading = "") {
    const query = new URLSearchParams(Object.entries(asked).filter(([, value]) => value)).toString();
    const box = el(
        "figure",
        { class: "drawn" },
        heading ? el("figcaption", { class: "strong" }, heading) : null,
        el("p", { class: "waiting" }, "Drawing …"),
    );
    text(`${at("jobs", page.names.job, "pictures", kind)}?${query}`, page.signal)
        .then((svg) => {
            const read = new DOMParser().parseFromString(svg, "image/svg+xml");
            const words = ["title", "desc"]
                .map((name) => read.querySelector(`svg > ${name}`)?.textContent || "")
                .filter(Boolean)
                .join(". ");
            box.lastChild.replaceWith(svgPicture(svg, words || heading || kind));
        })
        .catch((error) => {
            if (error.name === "AbortError") return;
            box.lastChild.replaceWith(el("p", { class: "soft" }, sentence(error.what) || "It could not be drawn."));
        });
    return box;
}

// ---- Small pieces --------------------------------------------------------------------

// The verdict, its first sentence large, a shape before it.
export function verdictBlock(verdict, says) {
    const cut = says.search(/[.:] /);
    const first = cut > 0 ? says.slice(0, cut + 1) : says;
    return [
        el("p", { class: `verdict ${{ too_dark: "stop", tone: "tone", leave: "leave" }[verdict] || "unsure"}` }, first),
        cut > 0 ? el("p", { class: "strong" }, says.slice(cut + 2)) : null,
    ];
}

const oneDecimal = (x) => x.toFixed(1);

export function gapWords(gap) {
    if (!gap || gap.de00 === null) return "";
    return `Gap to the old wood ${gap.text || `${oneDecimal(gap.de00)} (${oneDecimal(gap.de00_low)} to ${oneDecimal(gap.de00_high)})`}.`;
}

export function warningsBox(warnings) {
    const list = (warnings || []).map((w) => sentence(typeof w === "string" ? w : w.text || w.what)).filter(Boolean);
    return list.length
        ? el(
              "details",
              { class: "sheet" },
              el("summary", {}, plural(list.length, "thing to look at", "things to look at")),
              el(
                  "ul",
                  {},
                  list.map((w) => el("li", {}, w)),
              ),
          )
        : null;
}

// Several dyes of the shelf, or the starting guesses where it is empty.
export async function dyeNames(signal) {
    const shelf = await getKept("shelf", signal);
    const own = (shelf.shelf?.dyes || []).map((dye) => dye.name);
    return own.length ? own : shelf.families || [];
}
