// A phone or a computer on the bench: Chromium with one tab, what it must never do, and a person's fingers on it.

import { chromium } from "playwright-core";
import { PATIENCE_MS, check, pause, until } from "./checks.mjs";

const PHONE = { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 };
const BENCH = { viewport: { width: 1280, height: 800 } };
let browser = null;

async function openBrowser() {
    browser =
        browser || (await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] }));
    return browser;
}

// A browser of its own with one tab: device.page. What it must not do is watched: device.over() checks it.

export const openPages = () => browser?.contexts().flatMap((context) => context.pages()) || [];
export const closeBrowser = () => browser?.close();

// Runs before the page's own scripts: keeps the address that the page has heard of. A browser changes the address first and
// tells the page of it later; in between, the screen before stands there, whole and quiet.
function listen() {
    const heard = () => {
        window.heardOf = location.href;
    };
    heard();
    addEventListener("hashchange", heard);
    const replace = history.replaceState;
    history.replaceState = function replaceState(...given) {
        replace.apply(history, given);
        heard();
    };
}

// The page has heard of its address, nothing says "One moment", and a screen stands there.
function stands() {
    const waits = [...document.querySelectorAll(".waiting")].some((element) => element.checkVisibility());
    return window.heardOf === location.href && Boolean(document.querySelector("#screen > *")) && !waits;
}

export class Device {
    // wrong: what must not be. expected: patterns of what the test brought about itself (a lost link stands on the console of
    // any page). sent: what was asked of the program beside looking.
    constructor(server, kind, context, page) {
        Object.assign(this, { server, kind, context, page, wrong: [], expected: [], sent: [], asked: new Set(), quiet: Date.now() });
    }

    async watch() {
        const { page, wrong } = this;
        this.touch = await this.context.newCDPSession(page);
        await page.addInitScript(listen);
        await page.addInitScript(() => {
            const told = (event) => console.error(`policy: ${event.violatedDirective} ${event.blockedURI}`);
            addEventListener("securitypolicyviolation", told);
        });
        page.on("console", (message) => {
            if (message.type() === "error") wrong.push(`console: ${message.text()} ${message.location().url || ""}`);
        });
        page.on("pageerror", (error) => wrong.push(`error: ${error.stack || error}`));
        page.on("dialog", async (dialog) => {
            wrong.push(`dialog: ${dialog.message()}`);
            await dialog.dismiss();
        });
        page.on("request", (request) => this.asks(request));
        for (const over of ["requestfinished", "requestfailed"]) page.on(over, (request) => this.answered(request));
        page.on("framenavigated", (frame) => {
            if (frame === page.mainFrame()) this.quiet = Date.now();
        });
    }

    asks(request) {
        const url = new URL(request.url());
        // Loading the page anew ends what the one before had asked, and not all of it is told.
        if (request.isNavigationRequest() && request.frame() === this.page.mainFrame()) this.asked.clear();
        this.asked.add(request);
        if (!["data:", "blob:"].includes(url.protocol) && url.origin !== this.server.origin)
            this.wrong.push(`asks elsewhere: ${url}`);
        if (request.method() !== "GET" && url.pathname.startsWith("/api/"))
            this.sent.push({ method: request.method(), path: decodeURI(url.pathname), body: request.postData() });
    }

    answered(request) {
        this.asked.delete(request);
        this.quiet = Date.now();
    }

    // The state stands: all that was asked is answered.
    settled() {
        const quiet = () => this.asked.size === 0 && Date.now() - this.quiet > 120;
        return until(async () => quiet() && this.page.evaluate(stands).catch(() => false));
    }

    // All that the page keeps on this device under that name (store.js).
    stored(name) {
        return this.page.evaluate(
            (store) =>
                new Promise((done) => {
                    const asked = indexedDB.open("huewright", 1);
                    asked.onsuccess = () => {
                        const all = asked.result.transaction(store).objectStore(store).getAll();
                        all.onsuccess = () => {
                            asked.result.close();
                            done(JSON.parse(JSON.stringify(all.result)));
                        };
                    };
                }),
            name,
        );
    }

    // Goes to a state by its address, as a link or a bookmark does.
    async open(address) {
        const go = (hash) => {
            location.hash = hash;
        };
        if (this.page.url().startsWith(this.server.origin)) await this.page.evaluate(go, address);
        else await this.page.goto(`${this.server.origin}/${address}`);
        await pause(50);
        await this.settled();
    }

    // By the link of the QR code, which pairs by itself.
    async pair() {
        await this.page.goto(`${this.server.origin}/#pair=${this.server.code()}`);
        await until(() => !this.page.url().includes("pair"), 20000);
        await this.settled();
    }

    async over() {
        const wrong = this.wrong.filter((line) => !this.expected.some((pattern) => pattern.test(line)));
        check(wrong.length === 0, `${this.kind}: ${[...new Set(wrong)].slice(0, 8).join("\n    ")}`);
        check((await this.page.title()) !== "RAN", `${this.kind}: a name ran`);
        await this.context.close();
    }
}

// kind: "phone" or "bench". Over the network it is paired first, unless that is what is tested.
export async function newDevice(server, kind, { paired = true } = {}) {
    const shape = kind === "phone" ? PHONE : BENCH;
    const context = await (await openBrowser()).newContext({ ...shape, serviceWorkers: "block", acceptDownloads: true });
    context.setDefaultTimeout(PATIENCE_MS);
    const device = new Device(server, kind, context, await context.newPage());
    await device.watch();
    if (server.lan && paired) await device.pair();
    return device;
}

// ---- Fingers -----------------------------------------------------------------------

// A tap so soon after a stroke or while the page still scrolls is none to a browser, as it would be none of a hand.
const SETTLE_MS = 150;

// A press at `from`, moved over the further places in small steps, let go: a finger on the phone, else the mouse.
export async function drag(device, from, ...further) {
    const places = [from];
    for (const to of further) {
        const last = places.at(-1);
        for (let i = 1; i <= 6; i += 1)
            places.push({ x: last.x + ((to.x - last.x) * i) / 6, y: last.y + ((to.y - last.y) * i) / 6 });
    }
    if (device.kind === "phone") {
        const send = (type, place) => device.touch.send("Input.dispatchTouchEvent", { type, touchPoints: place ? [place] : [] });
        await send("touchStart", places[0]);
        for (const place of places.slice(1)) await send("touchMove", place);
        await send("touchEnd", null);
        await pause(SETTLE_MS);
    } else {
        await device.page.mouse.move(places[0].x, places[0].y);
        await device.page.mouse.down();
        for (const place of places.slice(1)) await device.page.mouse.move(place.x, place.y);
        await device.page.mouse.up();
    }
    await pause(30);
}

export async function tap(device, place) {
    if (device.kind === "phone") await device.page.touchscreen.tap(place.x, place.y);
    else await device.page.mouse.click(place.x, place.y);
    await pause(30);
}

// Two fingers about a middle, `from` to `to` pixels apart, the middle moved by `by`.
export async function pinch(device, middle, from, to, by = { x: 0, y: 0 }) {
    const fingers = (part) => {
        const [x, y, half] = [middle.x + by.x * part, middle.y + by.y * part, (from + (to - from) * part) / 2];
        return [
            { x: x - half, y, id: 0 },
            { x: x + half, y, id: 1 },
        ];
    };
    const send = (type, touchPoints) => device.touch.send("Input.dispatchTouchEvent", { type, touchPoints });
    await send("touchStart", fingers(0));
    for (let i = 1; i <= 8; i += 1) await send("touchMove", fingers(i / 8));
    await send("touchEnd", []);
    await pause(50);
}

function ifDetached(error) {
    if (!/not attached/.test(error.message)) throw error;
    return false;
}

// Presses what bears these words: a button or a link.
export async function press(device, name, { within = device.page, exact = false } = {}) {
    const target = within.getByRole("button", { name, exact }).or(within.getByRole("link", { name, exact })).first();
    // A reading that comes meanwhile draws buttons anew; a hand does not notice, and finds the new one.
    await until(() => target.scrollIntoViewIfNeeded().then(() => true, ifDetached));
    if (device.kind === "phone") await pause(SETTLE_MS);
    if (device.kind === "phone") await target.tap();
    else await target.click();
}
